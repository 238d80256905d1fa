"""The base of every widget that paints itself from the theme."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from station.screens.lettering import Letterer
from station.screens.theme import Look


class Painted(QWidget):
    """A widget on the theme's ground; subclasses draw in `paint` and nowhere else."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        self.look = look
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Fill the ground, then `paint`."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(self.look.palette.ground))
        self.paint(painter, Letterer(painter, self.look))
        painter.end()

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Draw the widget."""


def plate(painter: QPainter, box: QRectF, look: Look, *, fill: str = "", outline: str = "") -> None:
    """A plain rounded plate, the only container shape of the screens."""
    width = look.metrics.hairline
    painter.setPen(QPen(QColor(outline), width) if outline else QPen(QColor(0, 0, 0, 0)))
    painter.setBrush(QColor(fill) if fill else QColor(0, 0, 0, 0))
    radius = look.metrics.gap * 0.75
    inset = width / 2
    painter.drawRoundedRect(box.adjusted(inset, inset, -inset, -inset), radius, radius)
