"""A jump line on the screen: its threads, its window, and the painter between them. Used in a `with` statement."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from types import TracebackType
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal, Slot

from station.capture.jump_line import JumpLine, Show
from station.capture.jump_view import JumpLineView
from station.capture.rack_view import LiveTrace
from station.capture.threads import CaptureThreads
from station.screens.jump_line_window import JumpLineWindow
from station.screens.opening import screens_application
from station.screens.theme import ScreenGeometry, ThemeName


class JumpThreads(CaptureThreads[JumpLine, JumpLineView]):
    """Runs a jump line. Implements `JumpActions` by passing them to the worker."""

    def jumps_now(self, athlete_id: str) -> None:
        """This athlete wears the belt that is up."""
        self.touch(lambda line: line.jumps_now(athlete_id))

    def later(self) -> None:
        """The athlete who is up goes to the end of the line."""
        self.touch(lambda line: line.later())

    def strike_last(self) -> None:
        """The last trial does not count."""
        self.touch(lambda line: line.strike_last())

    def undo(self) -> None:
        """Take the last of these back."""
        self.touch(lambda line: line.undo())


class JumpLineApp(QObject):
    """Starts capture and shows the window; leaving lets the belts go and closes the record.

    Args:
        make_line: builds the jump line, in the capture worker's thread.
        source: the belts' links.

    Signals:
        painted: a view was handed to the window.

    Raises:
        StoreError: on entering, when the record cannot be opened.
    """

    painted = Signal(object)
    _woken = Signal()

    def __init__(
        self,
        make_line: Callable[[Show], JumpLine],
        source: Callable[[Callable[[Any], None]], Coroutine[Any, Any, None]],
        theme: ThemeName,
        screen: ScreenGeometry,
    ) -> None:
        self.application = screens_application()
        super().__init__()
        self._woken.connect(self._paint, Qt.ConnectionType.QueuedConnection)
        self.threads = JumpThreads(make_line, source, self._woken.emit)
        self.window = JumpLineWindow(self.threads, theme, screen)

    def __enter__(self) -> JumpLineApp:
        self.threads.start()
        self._woken.emit()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.window.close()
        self.threads.stop()
        self.window.deleteLater()

    def start(self) -> None:
        """Start capture; the window's closing ends it."""
        self.__enter__()
        self.setParent(self.window)
        self.window.closed.connect(self.threads.stop)

    @Slot()
    def _paint(self) -> None:
        for item in self.threads.drain():
            if not isinstance(item, LiveTrace):
                self.window.show_view(item)
                self.painted.emit(item)
