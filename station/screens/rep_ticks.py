"""The reps of the set as numbered ticks on the velocity scale, each state with a shape of its own."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPen

from station.capture.rack_view import RepStatus, RepView
from station.screens.lettering import Letterer
from station.screens.scale_layout import ScaleRange, in_rows
from station.screens.theme import Look, TextSize

SHORT_FROM = 0.45  # share of the track above an earlier rep's tick and above the usual range
UNMEASURED_AT = 0.06  # share of the track where reps without a velocity are parked


@dataclass(frozen=True, slots=True)
class RepTicks:
    """Paints ticks on one track.

    Attributes:
        look: theme and sizes.
        track: rectangle of the scale; ticks stand on its lower edge.
        span: velocities it stands for.
        reps: all reps of the set; the last one is drawn large.
    """

    look: Look
    track: QRectF
    span: ScaleRange
    reps: tuple[RepView, ...]

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Ticks, then their numbers."""
        if not self.reps:
            return
        xs = [self._x(rep) for rep in self.reps]
        for rep, x in zip(self.reps, xs, strict=True):
            self._tick(painter, rep, x)
        self._numbers(painter, letter, xs)

    def _is_last(self, rep: RepView) -> bool:
        return rep is self.reps[-1]

    def _x(self, rep: RepView) -> float:
        share = UNMEASURED_AT
        if rep.mean_velocity_m_s is not None:
            share = self.span.position(rep.mean_velocity_m_s)
        return self.track.left() + share * self.track.width()

    def _tick(self, painter: QPainter, rep: RepView, x: float) -> None:
        """Measured: a bar. Uncertain: a hollow bar with whiskers. Struck, failed, not measured: a cross."""
        metrics, ink = self.look.metrics, QColor(self.look.palette.ink)
        width = (2.5 if self._is_last(rep) else 1.0) * metrics.stroke
        top = self.track.top() + (0.0 if self._is_last(rep) else self.track.height() * SHORT_FROM)
        bar = QRectF(x - width / 2, top, width, self.track.bottom() - top)
        if rep.status is RepStatus.MEASURED:
            painter.fillRect(bar, ink)
        elif rep.status is RepStatus.UNCERTAIN:
            self._whiskers(painter, rep)
            painter.setPen(QPen(ink, metrics.hairline))
            painter.setBrush(QColor(self.look.palette.ground))
            painter.drawRect(bar)
        else:
            self._cross(painter, x, 1.0 if self._is_last(rep) else 0.65)

    def _whiskers(self, painter: QPainter, rep: RepView) -> None:
        if rep.uncertainty_m_s is None or rep.mean_velocity_m_s is None:
            return
        y = self.track.top() + self.track.height() * 0.65
        ends = [
            self.track.left() + self.span.position(rep.mean_velocity_m_s + side) * self.track.width()
            for side in (-rep.uncertainty_m_s, rep.uncertainty_m_s)
        ]
        painter.setPen(QPen(QColor(self.look.palette.ink), self.look.metrics.hairline))
        painter.drawLine(QPointF(ends[0], y), QPointF(ends[1], y))
        for x in ends:
            painter.drawLine(QPointF(x, y - self.look.metrics.gap), QPointF(x, y + self.look.metrics.gap))

    def _cross(self, painter: QPainter, x: float, size: float) -> None:
        arm = 1.6 * self.look.metrics.gap * size
        y = self.track.top() + self.track.height() * 0.6
        painter.setPen(QPen(QColor(self.look.palette.ink), self.look.metrics.stroke))
        painter.drawLine(QPointF(x - arm, y - arm), QPointF(x + arm, y + arm))
        painter.drawLine(QPointF(x - arm, y + arm), QPointF(x + arm, y - arm))

    def _numbers(self, painter: QPainter, letter: Letterer, xs: list[float]) -> None:
        """The last rep's number large above its tick; earlier ones small, in two rows, where there is
        room; a tick without a number stands in order between its neighbours."""
        metrics, last = self.look.metrics, self.reps[-1]
        width = letter.width(str(last.number), TextSize.READING, strong=True)
        cap = metrics.cap_px(TextSize.READING)
        top = self.track.top() - metrics.gap * 0.6 - cap
        large = QRectF(xs[-1] - width / 2, top, width + 1, cap)
        letter.block(large, str(last.number), TextSize.READING, 1, strong=True)
        beside = (large.left(), large.right())
        under = (xs[-1] - 1.5 * metrics.stroke, xs[-1] + 1.5 * metrics.stroke)
        low_enough = self._row_top(0) > large.bottom() + 1
        self._small_numbers(painter, letter, xs[:-1], [[under if low_enough else beside], [beside]])

    def _row_top(self, row: int) -> float:
        """Top of the small numbers' lower (0) or upper (1) row."""
        cap = self.look.metrics.cap_px(TextSize.COACH)
        foot = self.track.top() + self.track.height() * SHORT_FROM - self.look.metrics.hairline
        return foot - cap - row * cap * 1.3

    def _small_numbers(
        self,
        painter: QPainter,
        letter: Letterer,
        xs: list[float],
        taken: list[list[tuple[float, float]]],
    ) -> None:
        metrics = self.look.metrics
        cap, ground = metrics.cap_px(TextSize.COACH), QColor(self.look.palette.ground)
        words = [str(rep.number) for rep in self.reps[:-1]]
        widths = [letter.width(word, TextSize.COACH) for word in words]
        rows = in_rows(xs, widths, metrics.gap * 0.6, taken)
        for word, x, width, row in zip(words, xs, widths, rows, strict=True):
            if row is not None and self._row_top(row) >= 0.0:
                top = self._row_top(row)
                # The ground behind the digit, so that no mark runs through it.
                painter.fillRect(QRectF(x - width / 2 - 2, top - 2, width + 4, cap + 4), ground)
                letter.block(QRectF(x - width / 2, top, width + 1, cap), word, TextSize.COACH, 1)
