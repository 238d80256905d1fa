"""A page over a part of the rack's screen, closed by a choice or by Escape."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from station.screens.theme import Look


class CoveringPage(QWidget):
    """Hidden until opened; whoever closes it goes on with what lies behind.

    Args:
        look: theme and sizes.
        parent: what lies behind.
    """

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self.look = look
        self._behind = parent
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.hide()

    def close_page(self) -> None:
        """Close without a choice."""
        self.hide()
        self._behind.setFocus(Qt.FocusReason.OtherFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape closes."""
        if event.key() == Qt.Key.Key_Escape:
            self.close_page()
        else:
            super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        """The ground, so that nothing shines through."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self.look.palette.ground))
        painter.end()
