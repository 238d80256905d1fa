"""A badge reader that types like a keyboard: letters and digits in a burst, then Enter.

A burst is told from a person's key by its pace: nobody follows a key by the next within 50 ms. A single letter waits
that long and is then taken for the shortcut it is.
"""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent

PACE_MS = 50
SHORTEST = 4


def types_a_badge(event: QKeyEvent) -> bool:
    """A letter or a digit without a modifier but shift."""
    text = event.text()
    held = event.modifiers() & ~(Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier)
    return len(text) == 1 and text.isascii() and text.isalnum() and held == Qt.KeyboardModifier.NoModifier


class BadgeReader(QObject):
    """Collects keys; emits `badge(code)` after a burst with Enter, `single(letter)` for a key on its own."""

    badge = Signal(str)
    single = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._typed = ""
        self._pause = QTimer(self, singleShot=True, interval=PACE_MS)
        self._pause.timeout.connect(self._let_go)

    def key(self, text: str) -> None:
        """One letter or digit."""
        self._typed += text
        self._pause.start()

    def enter(self) -> bool:
        """Enter; whether it ended a badge."""
        code, self._typed = self._typed, ""
        self._pause.stop()
        if len(code) < SHORTEST:
            for letter in code:
                self.single.emit(letter)
            return False
        self.badge.emit(code)
        return True

    def _let_go(self) -> None:
        """A pause: it was no badge."""
        typed, self._typed = self._typed, ""
        for letter in typed:
            self.single.emit(letter)
