"""The cautions, shown where the number will be until somebody has read them or the first rep is done."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF, QSizeF, Signal
from PySide6.QtGui import QColor, QPainter, QResizeEvent
from PySide6.QtWidgets import QWidget

from station.capture.rack_view import RackView
from station.screens.controls import TouchButton
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.theme import Look, TextSize

HEADING, BEGIN = "Before you lift", "Read, begin"
MOST_LINES = 4
ITEM_GAP_CAPS = 0.45  # items stand a little closer than lines would with a line between


class CautionsPage(Painted):
    """A heading, the cautions one below the other, and a button. Says when they were read and asked for again."""

    read = Signal()
    shown = Signal()

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(look, parent)
        self._cautions: tuple[str, ...] = ()
        self._read: tuple[str, ...] = ()
        self._all: tuple[str, ...] = ()
        self._asked = False
        self._first = 0
        self.button = TouchButton(BEGIN, look, self)
        self.button.clicked.connect(self.mark_read)

    def set_look(self, look: Look) -> None:
        """Change theme or sizes."""
        super().set_look(look)
        self.button.set_look(look)

    def show_view(self, view: RackView) -> None:
        """Take the cautions of this state; visible until read, never over a rep. The next session asks anew."""
        if not view.cautions:
            self._read = ()
        asked_for = self._asked and not view.cautions and not (view.set is not None and view.set.is_open)
        self._cautions = view.all_cautions if asked_for else view.cautions
        if asked_for:
            return
        self._asked = False
        self._all = view.all_cautions or view.cautions
        if view.cautions != self._read and not self.isVisible():
            self._first = 0
        self._speak()
        has_reps = view.set is not None and bool(view.set.reps)
        self.setVisible(bool(view.cautions) and view.cautions != self._read and not has_reps)
        self._name_button()
        self.update()

    def mark_read(self) -> None:
        """Somebody has read them, or the page of them that fits."""
        self._first += self._fit()
        if self._first < len(self._cautions):
            self._name_button()
            self.update()
            return
        self._read, self._first = () if self._asked else self._cautions, 0
        self._asked = False
        self.hide()
        self.read.emit()

    def show_again(self) -> None:
        """On demand, also later in the session."""
        self._read, self._first, self._asked = (), 0, True
        self._cautions = self._cautions or self._all
        self._speak()
        self._name_button()
        self.setVisible(bool(self._cautions))
        self.shown.emit()

    def _speak(self) -> None:
        self.setAccessibleName(f"{HEADING}: " + " ".join(self._cautions))

    def _name_button(self) -> None:
        last = self._first + self._fit() >= len(self._cautions)
        self.button.set_words(BEGIN if last else "Next", "" if last else "items")

    def _fit(self) -> int:
        """How many cautions there is room for from the first shown one on; one at least."""
        letter = Letterer(QPainter(), self.look)
        shown = self._cautions[self._first :]
        boxes = self._boxes(letter, self._size(letter), shown)
        return max(sum(box.bottom() <= self.height() for box in boxes), min(len(shown), 1))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The button stands at the lower right."""
        wide, high = 2 * self.look.metrics.control, self.look.metrics.control_height
        self.button.setGeometry(self.width() - wide, self.height() - high, wide, high)
        self._name_button()

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Heading and list."""
        metrics = self.look.metrics
        box = QRectF(self.rect()).adjusted(0, metrics.gap, 0, -metrics.gap)
        letter.block(box, HEADING, TextSize.READING, 1, strong=True)
        size = self._size(letter)
        shown = self._cautions[self._first : self._first + self._fit()]
        for caution, place in zip(shown, self._boxes(letter, size, shown), strict=True):
            mark = QRectF(0, place.top(), metrics.gap, metrics.cap_px(size))
            painter.fillRect(mark, QColor(self.look.palette.alert))
            letter.block(place, caution, size, MOST_LINES)

    def _size(self, letter: Letterer) -> TextSize:
        """Reading size where all of it fits, else the coach's."""
        boxes = self._boxes(letter, TextSize.READING, self._cautions)
        return TextSize.READING if not boxes or boxes[-1].bottom() <= self.height() else TextSize.COACH

    def _boxes(self, letter: Letterer, size: TextSize, cautions: Sequence[str]) -> list[QRectF]:
        """Where the cautions stand, one below the other; beside the button, where they reach down to it."""
        metrics, boxes = self.look.metrics, list[QRectF]()
        indent, beside = 3 * metrics.gap, self.button.x() - metrics.gap
        top = metrics.cap_px(TextSize.READING) + 2.8 * metrics.gap
        for caution in cautions:
            box = _box(letter, caution, size, QRectF(indent, top, self.width() - indent, 0))
            if box.bottom() > self.button.y() - metrics.gap:
                box = _box(letter, caution, size, QRectF(indent, top, beside - indent, 0))
            boxes.append(box)
            top = box.bottom() + metrics.line_px(size) - metrics.cap_px(size) * ITEM_GAP_CAPS
        return boxes


def _box(letter: Letterer, caution: str, size: TextSize, room: QRectF) -> QRectF:
    """The room as high as the caution needs it."""
    return QRectF(
        room.topLeft(), QSizeF(room.width(), letter.height(caution, room.width(), size, MOST_LINES))
    )
