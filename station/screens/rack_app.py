"""A rack on the screen: its threads, its window, and the painter between them. Used in a `with` statement."""

from __future__ import annotations

import gc
from collections.abc import Callable
from types import TracebackType
from typing import TYPE_CHECKING

from station.capture.checkin_at_rack import WorkerBook
from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.capture.rack_threads import RackThreads
from station.capture.rack_view import RackView
from station.capture.threads import Source
from station.screens.awake import KeepAwake
from station.screens.opening import make_mirror_window, make_rack_window, screens_application
from station.screens.painter import Painter
from station.screens.sound import Sound
from station.screens.theme import ScreenGeometry, ThemeName

if TYPE_CHECKING:
    from station.screens.kiosk_window import KioskWindow


class RackApp:
    """Starts capture and shows the window; closing lets the sensor go and closes the record.

    Args:
        make_rack: builds the rack, in the capture worker's thread.
        source: the link to the sensor.
        theme, diagonal_in, full_screen: as for `make_rack_window`.
        mirror_in: diagonal of a second display above the rack that shows the athlete's part alone; None: none.
        find_sensor: as for `RackThreads`.

    Raises:
        StoreError: on entering, when the record cannot be opened.
    """

    def __init__(
        self,
        make_rack: Callable[[Show], Rack],
        source: Source,
        *,
        theme: ThemeName = "dark",
        diagonal_in: float = 10.0,
        full_screen: bool = False,
        mirror_in: float | None = None,
        find_sensor: Callable[[], None] = lambda: None,
    ) -> None:
        self.application = screens_application()
        self._diagonal_in = diagonal_in
        self.painter = Painter()
        self.awake, self.sound = KeepAwake(), Sound()
        self._silence_said = False
        self.threads = RackThreads(make_rack, source, self.painter.wake, find_sensor)
        self.window = make_rack_window(
            self.threads, theme_name=theme, diagonal_in=diagonal_in, full_screen=full_screen
        )
        self.check_in: KioskWindow | None = None
        self.window.check_in_wanted.connect(self.open_check_in)
        if mirror_in is not None:
            self.mirror = make_mirror_window(self.window, diagonal_in=mirror_in, full_screen=full_screen)

    def __enter__(self) -> RackApp:
        self.threads.start()
        self.painter.attach(self.window, self.threads.drain)
        self.window.show()
        self.window.tone_due.connect(self.sound.play)
        self.painter.painted.connect(self._painted)
        # What the start made lives as long as the program. Walking it, a full collection would hold up painting and
        # radio by 80 ms (160,000 objects).
        gc.freeze()
        return self

    def _painted(self, view: RackView) -> None:
        """The display stays awake while a sensor streams or a set is shown."""
        self.awake.want(view.sensor.streaming or view.set is not None)
        if view.settings.sound and not self.sound.possible and not self._silence_said:
            self._silence_said = True
            self.window.say("This machine has nothing that plays a sound: no tones.")

    def open_check_in(self) -> KioskWindow:
        """The check-in over the rack's screen, while nobody lifts; the mirror goes blank while somebody answers."""
        from station.screens.kiosk_window import KioskWindow  # a start does not wait for it

        if self.check_in is not None:
            self.check_in.close()
            self.check_in.deleteLater()
        screen = ScreenGeometry(self.window.width(), self.window.height(), self._diagonal_in)
        mirrors = (self.window.mirror,) if self.window.mirror is not None else ()
        theme = self.window.look.palette.name
        self.check_in = KioskWindow(
            WorkerBook(self.threads.ask), theme, screen, mirrors, leave="Back to the rack"
        )
        self.check_in.setParent(self.window)
        self.check_in.show()
        self.check_in.raise_()
        self.check_in.setFocus()
        return self.check_in

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        gc.unfreeze()
        self.awake.want(False)
        self.sound.close()
        self.window.close()
        self.threads.stop()
        self.window.deleteLater()
