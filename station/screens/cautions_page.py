"""The cautions, shown where the number will be until somebody has read them or the first rep is done."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter, QResizeEvent
from PySide6.QtWidgets import QWidget

from station.capture.rack_view import RackView
from station.screens.controls import TouchButton
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.theme import Look, TextSize


class CautionsPage(Painted):
    """A heading, the cautions one below the other, and a button."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(look, parent)
        self._cautions: tuple[str, ...] = ()
        self._read: tuple[str, ...] = ()
        self.button = TouchButton("Read, begin", look, self, key="Return")
        self.button.clicked.connect(self.mark_read)

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        super().set_look(look)
        self.button.set_look(look)

    def show_view(self, view: RackView) -> None:
        """Take the cautions of this state; visible until read, never over a rep."""
        self._cautions = view.cautions
        self.setAccessibleName("Before you lift: " + " ".join(view.cautions))
        has_reps = view.set is not None and bool(view.set.reps)
        self.setVisible(bool(view.cautions) and view.cautions != self._read and not has_reps)
        self.update()

    def mark_read(self) -> None:
        """Somebody has read them."""
        self._read = self._cautions
        self.hide()

    def show_again(self) -> None:
        """On demand, also later in the session."""
        self._read = ()
        self.setVisible(bool(self._cautions))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The button stands at the lower right."""
        control = self.look.metrics.control
        self.button.setGeometry(self.width() - 2 * control, self.height() - control, 2 * control, control)

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Heading and list."""
        metrics = self.look.metrics
        box = QRectF(self.rect()).adjusted(0, metrics.gap, 0, -metrics.gap)
        used = letter.block(box, "Before you lift", TextSize.READING, 1, strong=True)
        top = used.bottom() + 2.5 * metrics.gap
        for caution in self._cautions:
            mark = QRectF(0, top, metrics.gap, metrics.cap_px(TextSize.COACH))
            painter.fillRect(mark, QColor(self.look.palette.alert))
            clear = top > self.button.geometry().top() - 2 * metrics.line_px(TextSize.COACH)
            width = self.width() - 3 * metrics.gap - (self.button.width() + 2 * metrics.gap if clear else 0)
            used = letter.block(QRectF(3 * metrics.gap, top, width, 0), caution, TextSize.COACH, 2)
            top = used.bottom() + 2.4 * metrics.gap
