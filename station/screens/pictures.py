"""Pictures of every state of the rack screen in both themes: `python -m station.screens.pictures FOLDER`."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication

from station.capture.rack_view import Band, Decision, LiveTrace, RackView, ScreenSettings, SetField
from station.screens.colour_vision import MISSING_CONE, seen_picture
from station.screens.mirror_window import MirrorWindow
from station.screens.opening import screens_application
from station.screens.rack_window import RackWindow
from station.screens.sample_views import club, states
from station.screens.snapshot import save_snapshot
from station.screens.theme import ScreenGeometry, ThemeName

SCREENS = {"10in": ScreenGeometry(1280, 800, 10.0), "15in": ScreenGeometry(1920, 1080, 15.0)}
MIRROR = ScreenGeometry(1920, 1080, 32.0)
PERCENTS = (100, 200)
THEMES: tuple[ThemeName, ...] = ("dark", "light")


class NobodyListens:
    """`RackActions` for a picture: nothing happens."""

    def sign_in(self, staff: str, pin: str = "") -> None:
        """Nothing."""

    def set_pin(self, pin: str) -> None:
        """Nothing."""

    def correct_from(self, set_id: str, field: SetField, value: float | str) -> None:
        """Nothing."""

    def give_badge(self, code: str, athlete_id: str) -> None:
        """Nothing."""

    def use_bar(self, bar_kg: float) -> None:
        """Nothing."""

    def use_settings(self, settings: ScreenSettings) -> None:
        """Nothing."""

    def switch_athlete(self, athlete_id: str | None) -> None:
        """Nothing."""

    def find_sensor(self) -> None:
        """Nothing."""

    def add_guest(self) -> None:
        """Nothing."""

    def name_set(self, set_id: str, athlete_id: str) -> None:
        """Nothing."""

    def set_lift(self, lift: str) -> None:
        """Nothing."""

    def set_load(self, load_kg: float) -> None:
        """Nothing."""

    def end_set(self) -> None:
        """Nothing."""

    def strike_rep(self, rep_id: str, struck: bool) -> None:
        """Nothing."""

    def mark_effort(self, set_id: str, full: bool) -> None:
        """Nothing."""

    def decide(self, decision: Decision, load_kg: float | None = None) -> None:
        """Nothing."""

    def use_goal(self, stop_loss: float | None, band_m_s: Band | None) -> None:
        """Nothing."""

    def undo(self) -> None:
        """Nothing."""


def sample_trace() -> LiveTrace:
    """Eight seconds that look like three squats."""
    time = np.arange(0.0, 8.0, 0.01)
    phase = np.mod(time, 2.6)
    down = -0.9 * np.sin(np.pi * phase / 1.1) * (phase < 1.1)
    up = 0.8 * np.sin(np.pi * (phase - 1.1) / 0.9) * ((phase >= 1.1) & (phase < 2.0))
    return LiveTrace(time, down + up)


def write_pictures(folder: Path) -> list[Path]:
    """One PNG for each screen, theme and state."""
    application = screens_application()
    written = []
    for screen_name, screen in SCREENS.items():
        for theme in THEMES:
            for percent in PERCENTS:
                stem = f"rack-{screen_name}-{theme}" + (f"-{percent}" if percent != 100 else "")
                written += _rack_pictures(
                    application, RackWindow(NobodyListens(), theme, screen), folder / stem, percent
                )
    small = [file for file in written if "10in" in file.name]
    return written + _mirror_pictures(application, folder) + _pictures_as_seen(small)


def _rack_pictures(application: QApplication, window: RackWindow, stem: Path, percent: int) -> list[Path]:
    """Every state and the coach's pages, with text at so many percent."""
    window.add_trace(sample_trace())
    window.show()
    application.processEvents()
    written = []
    for name, view in _scaled_states(percent).items():
        window.show_view(view)
        application.processEvents()
        window.trace.paint_now()
        file = stem.with_name(f"{stem.name}-{name.replace(' ', '-')}.png")
        written.append(save_snapshot(window, file))
    written += _drawer_pictures(window, stem, percent)
    window.close()
    window.deleteLater()
    application.processEvents()
    return written


def _scaled_states(percent: int) -> dict[str, RackView]:
    return {
        name: replace(view, settings=replace(view.settings, scale_percent=percent))
        for name, view in states().items()
    }


def _pictures_as_seen(files: list[Path]) -> list[Path]:
    """The small screen's pictures once more, as people without red or green cones see them."""
    written = []
    for file in files:
        for kind in MISSING_CONE:
            seen = file.with_name(f"{kind}-{file.name}")
            seen_picture(QImage(str(file)), kind).save(str(seen))
            written.append(seen)
    return written


def _mirror_pictures(application: QApplication, folder: Path) -> list[Path]:
    written = []
    for theme in THEMES:
        mirror = MirrorWindow(theme, MIRROR)
        for name, view in states().items():
            mirror.show_view(view)
            file = folder / f"mirror-32in-{theme}-{name.replace(' ', '-')}.png"
            written.append(save_snapshot(mirror, file))
        mirror.close()
        mirror.deleteLater()
        application.processEvents()
    return written


def _drawer_pictures(window: RackWindow, stem: Path, percent: int) -> list[Path]:
    """The coach's pages, opened as a finger would."""
    window.show_view(_scaled_states(percent)["mid set"])
    large = window.large_print
    written = []
    for button, page in (
        (window.large_row.bar if large else window.controls.bar, "drawer-bar"),
        (window.large_row.set if large else window.controls.this_set, "drawer-set"),
        (window.large_row.more if large else window.tiles.more, "drawer-more"),
    ):
        button.click()
        written.append(save_snapshot(window, stem.with_name(f"{stem.name}-{page}.png")))
        window.drawer.close_page()
    window.show_view(replace(_scaled_states(percent)["mid set"], squad=club()))
    window.tiles.anybody.click()
    written.append(save_snapshot(window, stem.with_name(f"{stem.name}-all-names.png")))
    window.everybody.close_page()
    window.coach.open_page()
    written.append(save_snapshot(window, stem.with_name(f"{stem.name}-athlete-page.png")))
    window.coach.hide()
    return written


def main() -> int:
    """Write the pictures to the folder named on the command line."""
    if len(sys.argv) != 2:
        print("usage: python -m station.screens.pictures FOLDER", file=sys.stderr)
        return 2
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    print(f"{len(write_pictures(Path(sys.argv[1])))} pictures in {sys.argv[1]}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
