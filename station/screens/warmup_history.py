"""The athlete's own warm-ups at this load over the last weeks, the usual range, and today's place in it."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from station.capture.rack_view import RackView
from station.readiness.results import UsualRange, WarmupPoint
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.scale_layout import spread
from station.screens.theme import TextSize
from station.screens.wording import today_words

BAND_ALPHA = 70
SHOWN_SESSIONS = 24


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
        return view.usual if view.warmup_load_kg == view.load_kg else None

    def _plot(self, painter: QPainter, letter: Letterer, box: QRectF) -> None:
        view = self._view
        if view is None:
            return
        points = (*view.history[-SHOWN_SESSIONS:], *((view.today,) if view.today else ()))
        usual = self._usual()
        if not points and usual is None:
            return
        values = [p.mean_velocity_m_s for p in points]
        values += [usual.low_m_s, usual.high_m_s] if usual else []
        low, high = min(values) - 0.01, max(values) + 0.01
        days = [p.day.toordinal() for p in points] or [0]
        first, last = min(days), max(days)

        def place(point: WarmupPoint) -> QPointF:
            share = (point.day.toordinal() - first) / (last - first) if last > first else 1.0
            height = (high - point.mean_velocity_m_s) / (high - low)
            return QPointF(box.left() + share * box.width(), box.top() + height * box.height())

        if usual is not None:
            self._band(painter, box, usual, low, high)
        places = [(point, place(point)) for point in points]
        for point, at in places:
            self._under(painter, box, at, point)
        for point, at in places:
            self._dot(painter, at, point, today=point is view.today)
        self._legend(letter, box, last - first, places)

    def _band(self, painter: QPainter, box: QRectF, usual: UsualRange, low: float, high: float) -> None:
        metrics, colour = self.look.metrics, QColor(self.look.palette.usual)
        top = box.top() + (high - usual.high_m_s) / (high - low) * box.height()
        bottom = box.top() + (high - usual.low_m_s) / (high - low) * box.height()
        band = QRectF(0, top, self.width(), bottom - top)
        fill = QColor(colour)
        fill.setAlpha(BAND_ALPHA if usual.enough_history else 0)
        painter.fillRect(band, fill)
        style = Qt.PenStyle.SolidLine if usual.enough_history else Qt.PenStyle.DashLine
        painter.setPen(QPen(colour, metrics.hairline, style))
        painter.drawLine(band.topLeft(), band.topRight())
        painter.drawLine(band.bottomLeft(), band.bottomRight())

    def _under(self, painter: QPainter, box: QRectF, at: QPointF, point: WarmupPoint) -> None:
        """Match days get a notch at the foot, a change of bar or sensor a dotted wall."""
        metrics, palette = self.look.metrics, self.look.palette
        foot = box.bottom() + metrics.gap * 0.5
        if point.match_day_label:
            painter.setPen(QPen(QColor(palette.ink), metrics.hairline))
            painter.drawLine(QPointF(at.x(), foot), QPointF(at.x(), foot - metrics.gap))
        if point.equipment_changed:
            painter.setPen(QPen(QColor(palette.line), metrics.hairline, Qt.PenStyle.DotLine))
            painter.drawLine(QPointF(at.x(), box.top() - metrics.gap * 0.5), QPointF(at.x(), foot))

    def _dot(self, painter: QPainter, at: QPointF, point: WarmupPoint, *, today: bool) -> None:
        metrics, ink = self.look.metrics, QColor(self.look.palette.ink)
        ground = QColor(self.look.palette.ground)
        if today:
            radius = metrics.gap * 1.1
            corners = [QPointF(0, -radius), QPointF(radius, 0), QPointF(0, radius), QPointF(-radius, 0)]
            painter.setPen(QPen(ground, metrics.stroke))
            painter.setBrush(ink)
            painter.drawPolygon(QPolygonF([at + corner for corner in corners]))
            return
        radius = metrics.gap * 0.42
        painter.setPen(QPen(ink, metrics.hairline))
        painter.setBrush(ink if point.counted else ground)
        painter.drawEllipse(at, radius, radius)

    def _legend(
        self, letter: Letterer, box: QRectF, days: int, places: list[tuple[WarmupPoint, QPointF]]
    ) -> None:
        """Below the plot: how far back it goes, where bar or sensor changed, today."""
        metrics, view = self.look.metrics, self._view
        words, centres = [], []
        if days:
            words.append(f"{round(days / 7)} weeks" if days >= 14 else f"{days} days")
            centres.append(0.0)
        changes = [at.x() for point, at in places if point.equipment_changed]
        if changes:
            words.append("changed")
            centres.append(changes[-1])
        if view is not None and view.today is not None:
            words.append(f"today {view.today.match_day_label}".strip())
            centres.append(float(self.width()))
        widths = [letter.width(word, TextSize.COACH) for word in words]
        top, cap = box.bottom() + metrics.gap * 1.2, metrics.cap_px(TextSize.COACH)
        edges = spread(centres, widths, 0.0, self.width(), metrics.gap)
        for word, left, width in zip(words, edges, widths, strict=True):
            letter.block(QRectF(left, top, width + 1, cap), word, TextSize.COACH, 1)
