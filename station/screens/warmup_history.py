"""The athlete's own warm-ups at this load over the last weeks, the usual range, and today's place in it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from station.capture.rack_view import RackView
from station.readiness.results import UsualRange, WarmupPoint
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.scale_layout import spread
from station.screens.theme import TextSize
from station.screens.wording import NO_BREAK, match_days, today_words

BAND_ALPHA = 70
SHOWN_SESSIONS = 24


@dataclass(frozen=True, slots=True)
class HistoryPlot:
    """Where days and velocities stand in the plot's box, pixels."""

    box: QRectF
    points: tuple[WarmupPoint, ...]
    usual: UsualRange | None

    @property
    def days(self) -> int:
        """From the first point to the last."""
        return (self.points[-1].day - self.points[0].day).days

    def x(self, day: date) -> float:
        """Across: days."""
        share = (day - self.points[0].day).days / self.days if self.days else 1.0
        return self.box.left() + share * self.box.width()

    def y(self, velocity_m_s: float) -> float:
        """Up: velocity, over all that is drawn and a centimetre a second more on both sides."""
        values = [point.mean_velocity_m_s for point in self.points]
        values += [self.usual.low_m_s, self.usual.high_m_s] if self.usual else []
        low, high = min(values) - 0.01, max(values) + 0.01
        return self.box.top() + (high - velocity_m_s) / (high - low) * self.box.height()

    def place(self, point: WarmupPoint) -> QPointF:
        """Where a session's point stands."""
        return QPointF(self.x(point.day), self.y(point.mean_velocity_m_s))

    def changes(self) -> list[float]:
        """Where bar or sensor became another one."""
        return [self.x(point.day) for point in self.points if point.equipment_changed]

    def matches(self) -> list[float]:
        """Where a match was, as far as it lies in the plot."""
        first, last = self.points[0].day, self.points[-1].day
        return [self.x(day) for day in match_days(self.points) if first <= day <= last]


class WarmupHistory(Painted):
    """A sentence, and below it points over days."""

    _view: RackView | None = None

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        self._view = view
        self.setAccessibleName("warm-up history: " + " ".join(today_words(view)))
        self.update()

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Sentence, plot, legend."""
        if self._view is None:
            return
        metrics = self.look.metrics
        large, rest = today_words(self._view)
        used = letter.block(
            QRectF(0, 0, self.width(), self.height()), large, TextSize.READING, 2, strong=True
        )
        row = QRectF(0, used.bottom() + metrics.gap * 1.7, self.width(), self.height())
        used = letter.block(row, rest, TextSize.COACH, 2)
        legend = metrics.line_px(TextSize.COACH)
        top = used.bottom() + metrics.gap * 1.5
        side = metrics.gap * 1.4
        box = QRectF(side, top, self.width() - 2 * side, self.height() - top - legend - metrics.gap)
        if box.height() > 2 * metrics.gap:
            self._plot(painter, letter, box)

    def _usual(self) -> UsualRange | None:
        view = self._view
        if view is None:
            return None
        if view.assessed is not None:
            return view.assessed.usual
        if view.usual_at_warmup is not None:
            return view.usual_at_warmup
        return view.usual if view.warmup_load_kg == view.load_kg else None

    def _plot(self, painter: QPainter, letter: Letterer, box: QRectF) -> None:
        view, usual = self._view, self._usual()
        if view is None:
            return
        points = (*view.history[-SHOWN_SESSIONS:], *((view.today,) if view.today else ()))
        if not points:
            return
        plot = HistoryPlot(box, points, usual)
        if usual is not None:
            self._band(painter, plot, usual)
        self._under(painter, plot)
        for point in points:
            self._dot(painter, plot.place(point), point, today=point is view.today)
        self._legend(letter, plot)

    def _band(self, painter: QPainter, plot: HistoryPlot, usual: UsualRange) -> None:
        metrics, colour = self.look.metrics, QColor(self.look.palette.usual)
        top, bottom = plot.y(usual.high_m_s), plot.y(usual.low_m_s)
        band = QRectF(0, top, self.width(), bottom - top)
        fill = QColor(colour)
        fill.setAlpha(BAND_ALPHA if usual.enough_history else 0)
        painter.fillRect(band, fill)
        style = Qt.PenStyle.SolidLine if usual.enough_history else Qt.PenStyle.DashLine
        painter.setPen(QPen(colour, metrics.hairline, style))
        painter.drawLine(band.topLeft(), band.topRight())
        painter.drawLine(band.bottomLeft(), band.bottomRight())

    def _under(self, painter: QPainter, plot: HistoryPlot) -> None:
        """Matches are wedges at the foot, changes of bar or sensor dotted walls."""
        metrics, palette = self.look.metrics, self.look.palette
        foot, half = plot.box.bottom() + metrics.gap * 0.7, metrics.gap * 0.45
        painter.setPen(QPen(QColor(palette.ink), metrics.hairline, Qt.PenStyle.DotLine))
        for x in plot.changes():
            painter.drawLine(QPointF(x, plot.box.top() - metrics.gap * 0.5), QPointF(x, foot))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(palette.ink))
        for x in plot.matches():
            wedge = [QPointF(x, foot - 1.8 * half), QPointF(x + half, foot), QPointF(x - half, foot)]
            painter.drawPolygon(QPolygonF(wedge))

    def _dot(self, painter: QPainter, at: QPointF, point: WarmupPoint, *, today: bool) -> None:
        metrics, ink = self.look.metrics, QColor(self.look.palette.ink)
        ground = QColor(self.look.palette.ground)
        if today:
            radius = metrics.gap * 1.1
            corners = [QPointF(0, -radius), QPointF(radius, 0), QPointF(0, radius), QPointF(-radius, 0)]
            outline = QPen(ground, metrics.stroke) if point.counted else QPen(ink, metrics.hairline)
            painter.setPen(outline)
            painter.setBrush(ink if point.counted else ground)
            painter.drawPolygon(QPolygonF([at + corner for corner in corners]))
            return
        radius = metrics.gap * 0.42
        painter.setPen(QPen(ink, metrics.hairline))
        painter.setBrush(ink if point.counted else ground)
        painter.drawEllipse(at, radius, radius)

    def _legend(self, letter: Letterer, plot: HistoryPlot) -> None:
        """Below the plot, each word under its mark: how far back, matches, changes of bar or sensor, today."""
        weeks = f"{round(plot.days / 7)} weeks" if plot.days >= 14 else f"{plot.days} days"
        words = [(weeks if plot.days else "", 0.0)]
        if self._view is not None and self._view.today is not None:
            words.append(("today", float(self.width())))
        for word, xs in (("changed", plot.changes()), ("match", plot.matches())):
            if xs:  # the one with the most room for its word
                words.append((word, max(xs, key=lambda x: min(abs(x - other) for _, other in words))))
        gap = self.look.metrics.gap
        if sum(letter.width(word, TextSize.COACH) + gap for word, _ in words) > self.width() + gap:
            words = [(word.replace(" weeks", f"{NO_BREAK}wk"), x) for word, x in words]
        widths = [letter.width(word, TextSize.COACH) for word, _ in words]
        top, cap = plot.box.bottom() + gap * 1.2, self.look.metrics.cap_px(TextSize.COACH)
        edges = spread([x for _, x in words], widths, 0.0, self.width(), gap)
        for (word, _), left, width in zip(words, edges, widths, strict=True):
            letter.block(QRectF(left, top, width + 1, cap), word, TextSize.COACH, 1)
