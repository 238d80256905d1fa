"""A number pad over the right column: a shirt number by touch, for anybody of the squad."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QWidget

from station.screens.controls import TouchButton
from station.screens.theme import Look

COLUMNS, ROWS = 3, 4
KEYS = ("1", "2", "3", "4", "5", "6", "7", "8", "9", "Close", "0", "Enter")


class Keypad(QWidget):
    """Emits `digit("7")` and `entered()`; what was typed stands in the strip."""

    digit = Signal(str)
    entered = Signal()

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self.look = look
        self.setAccessibleName("shirt number")
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.buttons = {key: TouchButton(key, look, self, large=key.isdigit()) for key in KEYS}
        for key, button in self.buttons.items():
            button.setProperty("digit", key)
            button.clicked.connect(self._key_clicked)
        self.buttons["Enter"].set_primary(True)
        self.hide()

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        self.look = look
        for button in self.buttons.values():
            button.set_look(look)
        self.update()

    def _key_clicked(self) -> None:
        key = str(self.sender().property("digit"))
        if key.isdigit():
            self.digit.emit(key)
            return
        self.hide()
        if key == "Enter":
            self.entered.emit()

    def paintEvent(self, event: QPaintEvent) -> None:
        """The ground, so that nothing shines through."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self.look.palette.ground))
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """A grid of equal keys; the space between them gives way before the keys do."""
        control = self.look.metrics.control
        gap = max(1, min(self.look.metrics.gap, (self.width() - COLUMNS * control) // (COLUMNS - 1)))
        width = (self.width() - (COLUMNS - 1) * gap) / COLUMNS
        height = (self.height() - (ROWS - 1) * gap) / ROWS
        for index, button in enumerate(self.buttons.values()):
            row, column = divmod(index, COLUMNS)
            button.setGeometry(
                round(column * (width + gap)), round(row * (height + gap)), round(width), round(height)
            )
