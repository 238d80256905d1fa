"""Fetches what the capture worker shows and paints it, on the Qt thread."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Qt, Signal, Slot

from station.capture.rack_view import LiveTrace, RackView
from station.screens.rack_window import RackWindow

Drain = Callable[[], list[RackView | LiveTrace]]


class Painter(QObject):
    """Between the worker's queue and the window. `wake` may be called from any thread: it only posts.

    Signals:
        painted: a view was handed to the window and is on its way to the glass.
    """

    painted = Signal(object)
    _woken = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._window: RackWindow | None = None
        self._drain: Drain | None = None
        self._woken.connect(self._paint, Qt.ConnectionType.QueuedConnection)

    def attach(self, window: RackWindow, drain: Drain) -> None:
        """Paint into this window what `drain` gives."""
        self._window, self._drain = window, drain
        self.wake()

    def wake(self) -> None:
        """Something waits."""
        self._woken.emit()

    @Slot()
    def _paint(self) -> None:
        if self._window is None or self._drain is None:
            return
        for item in self._drain():
            if isinstance(item, LiveTrace):
                self._window.add_trace(item)
            else:
                self._window.show_view(item)
                self.painted.emit(item)
