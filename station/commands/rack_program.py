"""Runs a rack as a program: threads, window, and what a run without a display prints and leaves behind."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Literal

from rich.console import Console

from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.capture.rack_view import RackView, RepStatus
from station.capture.threads import Source

SIGNAL_LOOK_MS = 200


@dataclass(frozen=True, slots=True)
class Look:
    """How the screen is shown.

    Attributes:
        mirror_in: diagonal of a second display that shows the athlete's part alone, inches; None: no such display.
        headless_s: run without a display for so long, s, then end; None: a window until it is closed.
        picture: where a headless run leaves the picture of the screen.
    """

    theme: Literal["dark", "light"] = "dark"
    diagonal_in: float = 10.0
    full_screen: bool = False
    mirror_in: float | None = None
    headless_s: float | None = None
    picture: Path | None = None


def display_present() -> bool:
    """Whether a window can be shown: on Linux a display server must be named, elsewhere there always is one."""
    if not sys.platform.startswith("linux"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def run_rack(
    make_rack: Callable[[Show], Rack],
    source: Source,
    look: Look,
    find_sensor: Callable[[], None] = lambda: None,
) -> int:
    """Run until the window is closed or the headless time is over; how many reps were painted.

    Raises:
        StoreError: the record cannot be opened.
    """
    if look.headless_s is not None:
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    # Qt is loaded only now, after the platform is chosen; the other commands start without it.
    from PySide6.QtCore import QTimer

    from station.screens.rack_app import RackApp

    app = RackApp(
        make_rack,
        source,
        theme=look.theme,
        diagonal_in=look.diagonal_in,
        full_screen=look.full_screen,
        mirror_in=look.mirror_in,
        find_sensor=find_sensor,
    )
    # Both named, since a signal does not keep the listener it calls alive.
    follower = RepFollower(Console(emoji=False))
    photographer = _Photographer(app.window, look.picture) if look.picture is not None else None
    app.painter.painted.connect(follower.painted)
    if photographer is not None:
        app.painter.painted.connect(photographer.painted)
    with app:
        if look.headless_s is not None:
            QTimer.singleShot(int(look.headless_s * 1000), app.application.quit)
        quit_on_interrupt(app.application.quit)
        app.application.exec()
    return follower.reps


class RepFollower:
    """Prints each rep as it is painted: number and mean velocity."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._seen: set[str] = set()
        self._set_id: str | None = None
        self.reps = 0

    def painted(self, view: RackView) -> None:
        """A view was painted; say what is new in it."""
        if view.set is None:
            return
        new = [r for r in view.set.reps if r.rep_id not in self._seen]
        if new and view.set.set_id != self._set_id:
            self._set_id = view.set.set_id
            who = view.athlete.name if view.athlete else "nobody named"
            self._say(f"{who}, {view.lift}, {view.load_kg:g} kg, {view.set.kind} set {view.set.number}")
        for rep in new:
            self._seen.add(rep.rep_id)
            self.reps += 1
            if rep.mean_velocity_m_s is not None:
                self._say(f"  rep {rep.number}  {rep.mean_velocity_m_s:.2f} m/s")
            else:
                self._say(f"  {RepStatus(rep.status).value}: {rep.why}")

    def _say(self, words: str) -> None:
        # Names are untrusted text: never read as markup.
        self._console.print(words, markup=False, highlight=False)


class _Photographer:
    """Takes the picture when a set is over and a suggestion stands, or failing that of the last state."""

    def __init__(self, window: object, file: Path) -> None:
        self._window, self._file = window, file
        self._best = False

    def painted(self, view: RackView) -> None:
        """A view was painted."""
        from PySide6.QtWidgets import QWidget

        from station.screens.snapshot import save_snapshot

        tells_all = view.suggestion is not None and view.set is not None and not view.set.is_open
        if isinstance(self._window, QWidget) and (tells_all or not self._best):
            self._best = self._best or tells_all
            save_snapshot(self._window, self._file)


def quit_on_interrupt(quit_program: Callable[[], None]) -> None:
    """Ctrl-C ends the program properly: Qt's loop must come back to Python now and then to hear it."""
    from PySide6.QtCore import QCoreApplication, QTimer

    def interrupted(_number: int, _frame: FrameType | None) -> None:
        quit_program()

    signal.signal(signal.SIGINT, interrupted)
    heartbeat = QTimer(QCoreApplication.instance())
    heartbeat.timeout.connect(lambda: None)
    heartbeat.start(SIGNAL_LOOK_MS)
