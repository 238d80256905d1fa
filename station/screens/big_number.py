"""The last rep's velocity, the largest thing on the screen, and beside it unit, velocity loss and stop in words."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPen

from station.capture.rack_view import RackView, RepStatus, RepView, SetView
from station.screens.lettering import Letterer
from station.screens.painted import Painted, plate
from station.screens.theme import TextSize
from station.screens.wording import (
    figure_of,
    loss_words,
    no_number_words,
    short_loss_words,
    stop_words,
    velocity_words,
)

WITHOUT_NUMBER = (RepStatus.NOT_MEASURED, RepStatus.FAILED)


class BigNumber(Painted):
    """Paints the last rep of the set; before the first rep, what the athlete is asked to do."""

    _view: RackView | None = None

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        self._view = view
        self.setAccessibleName(self._spoken(view))
        self.update()

    @staticmethod
    def _spoken(view: RackView) -> str:
        if view.set is None or not view.set.reps:
            return view.say or "no rep yet"
        rep = view.set.reps[-1]
        velocity = figure_of(rep, view.figure)
        if velocity is None or rep.status in WITHOUT_NUMBER:
            return ": ".join(no_number_words(rep))
        return f"rep {rep.number}, {velocity_words(velocity)} metres per second, {rep.status}"

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Number or words, by what the last rep is."""
        view = self._view
        if view is None:
            return
        if view.set is None or not view.set.reps:
            self._words(letter, (view.say or "No rep yet").capitalize(), "")
            return
        rep = view.set.reps[-1]
        velocity = figure_of(rep, view.figure)
        if velocity is None or rep.status in WITHOUT_NUMBER:
            word, why = no_number_words(rep)
            self._words(letter, word.capitalize(), f"Rep {rep.number}: {why}")
            return
        number = self._number(painter, letter, rep, velocity)
        left = number.right() + 2 * self.look.metrics.gap
        beside = QRectF(left, number.top(), self.width() - left, number.height())
        self._unit(letter, beside, view, rep)
        if rep.status is RepStatus.MEASURED and view.set.stop_reached:
            self._stop_plate(painter, beside, view.set)
        elif rep.status is RepStatus.MEASURED:
            self._loss_and_stop(letter, beside, view.set)
        else:
            self._why(letter, beside, rep)

    def _words(self, letter: Letterer, large: str, small: str) -> None:
        """As large as they fit."""
        box = QRectF(0, 0, self.width(), self.height())
        sizes = [
            (TextSize.GLANCE, TextSize.READING, 2),
            (TextSize.READING, TextSize.READING, 2),
            (TextSize.READING, TextSize.COACH, 2),
            (TextSize.READING, TextSize.COACH, 1),
        ]
        fitting = (s for s in sizes if self._words_height(letter, large, small, *s) <= box.height())
        first, second, lines = next(fitting, sizes[-1])
        box.setTop(
            max(0.0, (box.height() - self._words_height(letter, large, small, first, second, lines)) / 2)
        )
        used = letter.block(box, large, first, lines, strong=True)
        if small:
            box.setTop(used.bottom() + 2.6 * self.look.metrics.gap)
            letter.block(box, small, second, lines)

    def _words_height(
        self, letter: Letterer, large: str, small: str, first: TextSize, second: TextSize, lines: int
    ) -> float:
        high = letter.height(large, self.width(), first, lines, strong=True)
        low = (
            letter.height(small, self.width(), second, lines) + 2.6 * self.look.metrics.gap if small else 0.0
        )
        return high + low

    def _number(self, painter: QPainter, letter: Letterer, rep: RepView, velocity: float) -> QRectF:
        cap = self.look.metrics.cap_px(TextSize.NUMBER)
        box = QRectF(0, (self.height() - cap) / 2, self.width(), cap)
        hollow = rep.status is not RepStatus.MEASURED
        used = letter.block(box, velocity_words(velocity), TextSize.NUMBER, 1, strong=True, hollow=hollow)
        if rep.status is RepStatus.STRUCK:
            painter.setPen(QPen(QColor(self.look.palette.ink), 2 * self.look.metrics.stroke))
            middle = used.center().y()
            painter.drawLine(QPointF(used.left(), middle), QPointF(used.right(), middle))
        return used

    def _unit(self, letter: Letterer, beside: QRectF, view: RackView, rep: RepView) -> None:
        metrics = self.look.metrics
        used = letter.block(beside, "m/s", TextSize.READING, 1)
        row = QRectF(used.right() + metrics.gap, used.top(), beside.right() - used.right(), used.height())
        row.setWidth(beside.right() - row.left())
        # The uncertainty is that of the mean velocity; for other figures none is known.
        known = rep.uncertainty_m_s is not None and view.figure == "mean"
        sure = f"± {rep.uncertainty_m_s:.2f}" if known else ""
        two = f"{view.figure} {sure}".strip()
        row.setTop(used.bottom() - metrics.cap_px(TextSize.COACH))
        letter.block(row, two, TextSize.COACH, 1)

    def _why(self, letter: Letterer, beside: QRectF, rep: RepView) -> None:
        metrics = self.look.metrics
        word, why = no_number_words(rep)
        box = QRectF(beside)
        tight = metrics.tight
        box.setTop(beside.top() + metrics.line_px(TextSize.READING) * (1.0 if tight else 1.3))
        used = letter.block(box, word, TextSize.READING, 1, strong=True)
        box.setTop(used.bottom() + (1.6 * metrics.gap if tight else metrics.line_px(TextSize.COACH) * 0.6))
        letter.block(box, why, TextSize.COACH, 1 if tight else 3)

    def _loss_and_stop(self, letter: Letterer, beside: QRectF, set_: SetView) -> None:
        """A word and its figure in the middle, the stop on the number's own baseline."""
        metrics = self.look.metrics
        reading, coach = metrics.cap_px(TextSize.READING), metrics.cap_px(TextSize.COACH)
        label, figure = loss_words(set_)
        if metrics.tight:
            middle = QRectF(beside.left(), beside.center().y() - reading / 2, beside.width(), reading)
            letter.block(middle, short_loss_words(set_), TextSize.READING, 1, strong=True)
            figure = ""
        last = QRectF(beside.left(), beside.bottom() - reading, beside.width(), reading)
        if figure:
            size = TextSize.GLANCE if figure.endswith("%") else TextSize.READING
            high = coach + 1.6 * metrics.gap + metrics.cap_px(size)
            top = beside.top() + reading + (last.top() - beside.top() - reading - high) / 2
            box = QRectF(beside.left(), top, beside.width(), coach)
            letter.block(box, label, TextSize.COACH, 1)
            box.moveTop(top + coach + 1.6 * metrics.gap)
            letter.block(box, figure, size, 1, strong=True)
        letter.block(last, stop_words(set_), TextSize.READING, 1)

    def _stop_plate(self, painter: QPainter, beside: QRectF, set_: SetView) -> None:
        """The stop is a filled plate, so that it is another shape and not only another word."""
        palette, metrics = self.look.palette, self.look.metrics
        letter = Letterer(painter, self.look, ink=palette.ground, ground=palette.ink)
        box = beside.adjusted(0, metrics.cap_px(TextSize.READING) + 2 * metrics.gap, 0, 0)
        plate(painter, box, self.look, fill=palette.ink)
        large = TextSize.READING if metrics.tight else TextSize.GLANCE
        air = (box.height() - metrics.cap_px(large) - metrics.cap_px(TextSize.COACH)) / 4
        inner = box.adjusted(1.5 * metrics.gap, air, -metrics.gap, -air)
        letter.block(inner, "Stop", large, 1, strong=True)
        inner.setTop(inner.bottom() - metrics.cap_px(TextSize.COACH))
        words = short_loss_words(set_) if metrics.tight else " ".join(loss_words(set_))
        letter.block(inner, words, TextSize.COACH, 1, strong=True)
