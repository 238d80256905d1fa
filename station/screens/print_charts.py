"""Charts for paper: points over days with the usual range, matches and changes of equipment; loads and velocities;
the reps of a session. Drawn as vectors in ink, told apart by shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from station.screens.a4_flow import INK, SMALL_PT, A4Flow, face
from station.screens.theme import PALETTES

BAND = PALETTES["light"].usual
LINE = PALETTES["light"].line
BAND_ALPHA = 50
LABEL_MM, FOOT_MM = 13.0, 6.0
STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)


@dataclass(frozen=True, slots=True)
class DayPoint:
    """A value of a day, with an interval where there is one; `full` False: it does not count."""

    day: date
    value: float
    low: float | None = None
    high: float | None = None
    full: bool = True


@dataclass(frozen=True, slots=True)
class DayChart:
    """Points over a season.

    Attributes:
        unit: of the values, beside the scale.
        band: usual range (low, high), or None.
        matches, changed: marked at the foot, and as dotted walls.
    """

    points: Sequence[DayPoint]
    first: date
    last: date
    unit: str
    band: tuple[float, float] | None = None
    matches: Sequence[date] = ()
    changed: Sequence[date] = ()

    def draw(self, painter: QPainter, box: QRectF) -> None:
        """Into this box of a page."""
        values = [v for p in self.points for v in (p.value, p.low, p.high) if v is not None]
        frame = _Frame(painter, box, [*values, *(self.band or ())], self.unit)
        days = max((self.last - self.first).days, 1)

        def x(day: date) -> float:
            return frame.plot.left() + (0.02 + 0.96 * (day - self.first).days / days) * frame.plot.width()

        if self.band is not None:
            frame.band(*self.band)
        for day in self.changed:
            painter.setPen(QPen(QColor(INK), A4Flow.mm(0.2), Qt.PenStyle.DotLine))
            painter.drawLine(QPointF(x(day), frame.plot.top()), QPointF(x(day), frame.plot.bottom()))
        for day in self.matches:
            frame.wedge(x(day))
        for point in self.points:
            if point.low is not None and point.high is not None:
                painter.setPen(QPen(QColor(INK), A4Flow.mm(0.15)))
                painter.drawLine(
                    QPointF(x(point.day), frame.y(point.low)), QPointF(x(point.day), frame.y(point.high))
                )
            frame.dot(QPointF(x(point.day), frame.y(point.value)), full=point.full)
        for day in _month_begins(self.first, self.last):
            frame.under(x(day), day.strftime("%b"))


@dataclass(frozen=True, slots=True)
class Falling:
    """One load-velocity line: at load 0 and its slope, with the sets it is drawn through; dashed: that of then."""

    intercept_m_s: float
    slope_m_s_per_kg: float
    sets: Sequence[tuple[float, float]]
    dashed: bool = False


def draw_lines(painter: QPainter, box: QRectF, lines: Sequence[Falling], per_kg: float, unit: str) -> None:
    """Load-velocity lines over the loads that were lifted.

    Args:
        per_kg: what one kg is in `unit`, the unit of loads.
    """
    loads = [load for line in lines for load, _ in line.sets]
    low, high = min(loads) - 5.0, max(loads) + 5.0
    ends = [line.intercept_m_s + line.slope_m_s_per_kg * load for line in lines for load in (low, high)]
    frame = _Frame(painter, box, [*ends, *(v for line in lines for _, v in line.sets)], "m/s")

    def at(load: float, velocity: float) -> QPointF:
        return QPointF(
            frame.plot.left() + (load - low) / (high - low) * frame.plot.width(), frame.y(velocity)
        )

    for line in lines:
        style = Qt.PenStyle.DashLine if line.dashed else Qt.PenStyle.SolidLine
        painter.setPen(QPen(QColor(INK), A4Flow.mm(0.4), style))
        painter.drawLine(
            *(at(load, line.intercept_m_s + line.slope_m_s_per_kg * load) for load in (low, high))
        )
        for load, velocity in line.sets:
            frame.dot(at(load, velocity), full=not line.dashed)
    step = next(s for s in STEPS if (high - low) * per_kg / s <= 8)
    tick = -(-low * per_kg // step) * step
    while tick <= high * per_kg:
        frame.under(at(tick / per_kg, 0).x(), f"{tick:g} {unit}")
        tick += step


def draw_reps(
    painter: QPainter,
    box: QRectF,
    sets: Sequence[tuple[str, Sequence[tuple[float, bool]]]],
    band: tuple[float, float] | None,
) -> None:
    """The reps of a session in order, set by set.

    Args:
        sets: for each what stands under it, and its reps: mean velocity (m/s), and whether it counts.
        band: usual range at the warm-up load, m/s; drawn over the first set alone.
    """
    values = [value for _, reps in sets for value, _ in reps]
    frame = _Frame(painter, box, [*values, *(band or ())], "m/s")
    count = sum(len(reps) + 1 for _, reps in sets)
    each, n = frame.plot.width() / max(count, 1), 0.5
    for nth, (words, reps) in enumerate(sets):
        left = frame.plot.left() + n * each
        if band is not None and nth == 0:
            frame.band(*band, (left - 0.4 * each, left + (len(reps) - 0.6) * each))
        for value, counts in reps:
            frame.dot(QPointF(frame.plot.left() + n * each, frame.y(value)), full=counts)
            n += 1
        frame.under((left + frame.plot.left() + (n - 1) * each) / 2, words)
        n += 1


class _Frame:
    """Scale at the left, plot, words below."""

    def __init__(self, painter: QPainter, box: QRectF, values: Sequence[float], unit: str) -> None:
        self._painter = painter
        self.plot = box.adjusted(A4Flow.mm(LABEL_MM), A4Flow.mm(2.0), -A4Flow.mm(1.0), -A4Flow.mm(FOOT_MM))
        low, high = min(values, default=0.0), max(values, default=1.0)
        edge = max(0.08 * (high - low), 0.01 * abs(high), 1e-3)
        self._low, self._high = low - edge, high + edge
        painter.setPen(QPen(QColor(LINE), A4Flow.mm(0.2)))
        painter.drawLine(self.plot.bottomLeft(), self.plot.bottomRight())
        step = next((s for s in STEPS if (self._high - self._low) / s <= 5), 200.0)
        tick = -(-self._low // step) * step
        while tick <= self._high:
            self._tick(tick, unit)
            tick += step

    def _tick(self, value: float, unit: str) -> None:
        y = self.y(value)
        self._painter.setPen(QPen(QColor(LINE), A4Flow.mm(0.1)))
        self._painter.drawLine(QPointF(self.plot.left(), y), QPointF(self.plot.right(), y))
        box = QRectF(
            self.plot.left() - A4Flow.mm(LABEL_MM), y - A4Flow.mm(2.0), A4Flow.mm(LABEL_MM - 1), A4Flow.mm(4)
        )
        self._text(box, f"{value:.4g} {unit}", Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)

    def y(self, value: float) -> float:
        """Where a value stands."""
        return self.plot.bottom() - (value - self._low) / (self._high - self._low) * self.plot.height()

    def band(self, low: float, high: float, between: tuple[float, float] | None = None) -> None:
        """The usual range, over all or between two places."""
        left, right = between or (self.plot.left(), self.plot.right())
        fill = QColor(BAND)
        fill.setAlpha(BAND_ALPHA)
        box = QRectF(QPointF(left, self.y(high)), QPointF(right, self.y(low)))
        self._painter.fillRect(box, fill)
        self._painter.setPen(QPen(QColor(BAND), A4Flow.mm(0.2)))
        self._painter.drawLine(box.topLeft(), box.topRight())
        self._painter.drawLine(box.bottomLeft(), box.bottomRight())

    def dot(self, at: QPointF, *, full: bool) -> None:
        """A value; hollow: it does not count, or is that of then."""
        self._painter.setPen(QPen(QColor(INK), A4Flow.mm(0.25)))
        self._painter.setBrush(QColor(INK) if full else QColor("#ffffff"))
        self._painter.drawEllipse(at, A4Flow.mm(0.8), A4Flow.mm(0.8))

    def wedge(self, x: float) -> None:
        """A match."""
        foot, half = self.plot.bottom(), A4Flow.mm(0.9)
        self._painter.setPen(Qt.PenStyle.NoPen)
        self._painter.setBrush(QColor(INK))
        corners = [QPointF(x, foot - 2 * half), QPointF(x + half, foot), QPointF(x - half, foot)]
        self._painter.drawPolygon(QPolygonF(corners))

    def under(self, x: float, words: str) -> None:
        """Words below the plot, within its width."""
        wide = QFontMetricsF(face(SMALL_PT), self._painter.device()).horizontalAdvance(words) + A4Flow.mm(1.0)
        left = min(
            max(x - wide / 2, self.plot.left() - A4Flow.mm(3)), self.plot.right() - wide + A4Flow.mm(1.0)
        )
        box = QRectF(left, self.plot.bottom() + A4Flow.mm(1.0), wide, A4Flow.mm(4.0))
        self._text(box, words, Qt.AlignmentFlag.AlignCenter)

    def _text(self, box: QRectF, words: str, place: Qt.AlignmentFlag) -> None:
        self._painter.setFont(face(SMALL_PT))
        self._painter.setPen(QColor(INK))
        self._painter.drawText(box, place, words)


def _month_begins(first: date, last: date) -> list[date]:
    found, day = [], first.replace(day=1)
    while day <= last:
        if day >= first:
            found.append(day)
        day = (day + timedelta(days=32)).replace(day=1)
    return found or [first]
