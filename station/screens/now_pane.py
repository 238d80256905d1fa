"""The athlete's part: who and what on top, the number, and below it the velocity scale."""

from __future__ import annotations

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from station.capture.rack_view import RackView
from station.screens.bar_line import BarLine
from station.screens.big_number import BigNumber
from station.screens.theme import Look, TextSize
from station.screens.velocity_scale import VelocityScale


class NowPane(QWidget):
    """Stacks the three; what height is left over goes to the scale."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.bar_line = BarLine(look, self)
        self.number = BigNumber(look, self)
        self.scale = VelocityScale(look, self)

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        self.look = look
        for part in (self.bar_line, self.number, self.scale):
            part.set_look(look)

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        for part in (self.bar_line, self.number, self.scale):
            part.show_view(view)

    def show_number(self, view: RackView) -> None:
        """A rep's number on the glass now: nobody should wait for the rest of the screen to be drawn."""
        self.number.show_view(view)
        self.number.repaint()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Line, number, scale from the top."""
        metrics, width, height = self.look.metrics, self.width(), self.height()
        line = self.bar_line.height_needed()
        number = round(metrics.cap_px(TextSize.NUMBER)) + 2 * metrics.gap
        spare = height - line - number
        scale = min(spare, self.scale.height_wanted())
        self.scale.setVisible(scale >= self.scale.height_needed())
        air = max(0, (spare - scale) // 3)
        self.bar_line.setGeometry(0, 0, width, line)
        self.number.setGeometry(0, line + air, width, number)
        self.scale.setGeometry(0, line + air + number + air, width, scale)
