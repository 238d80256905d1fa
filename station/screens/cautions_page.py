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

MOST_LINES = 3
ITEM_GAP_CAPS = 0.45  # items stand a little closer than lines would with a line between


class CautionsPage(Painted):
    """A heading, the cautions one below the other, and a button."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(look, parent)
        self._cautions: tuple[str, ...] = ()
        self._read: tuple[str, ...] = ()
        self.button = TouchButton("Read, begin", look, self)
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
        wide, high = 2 * self.look.metrics.control, self.look.metrics.control_height
        self.button.setGeometry(self.width() - wide, self.height() - high, wide, high)

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Heading and list."""
        metrics = self.look.metrics
        box = QRectF(self.rect()).adjusted(0, metrics.gap, 0, -metrics.gap)
        used = letter.block(box, "Before you lift", TextSize.READING, 1, strong=True)
        top = used.bottom() + 2.5 * metrics.gap
        room = self.button.geometry().top() - top
        large = self._height(letter, TextSize.READING) <= room
        size = TextSize.READING if large else TextSize.COACH
        cap = metrics.cap_px(size)
        for caution in self._cautions:
            painter.fillRect(QRectF(0, top, metrics.gap, cap), QColor(self.look.palette.alert))
            used = letter.block(self._text_box(top), caution, size, MOST_LINES)
            top = used.bottom() + metrics.line_px(size) - cap * ITEM_GAP_CAPS

    def _text_box(self, top: float) -> QRectF:
        indent = 3 * self.look.metrics.gap
        return QRectF(indent, top, self.width() - indent, 0)

    def _height(self, letter: Letterer, size: TextSize) -> float:
        metrics, width = self.look.metrics, self._text_box(0).width()
        between = metrics.line_px(size) - metrics.cap_px(size) * ITEM_GAP_CAPS
        return sum(letter.height(c, width, size, MOST_LINES) + between for c in self._cautions)
