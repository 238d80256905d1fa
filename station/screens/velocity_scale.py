"""One velocity scale that carries everything: usual range, target band, stop, and the reps as numbered ticks."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from station.capture.rack_view import RackView, RepStatus, RepView
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.scale_layout import (
    ScaleRange,
    in_rows,
    placed_reps,
    scale_range,
    spread,
    stop_velocity_m_s,
)
from station.screens.theme import TextSize
from station.screens.wording import velocity_words

NUMBER_ROWS = 2
BAND_ALPHA = 70


class VelocityScale(Painted):
    """Slow on the left, fast on the right, mean velocity in m/s."""

    _view: RackView | None = None

    def show_view(self, view: RackView) -> None:
        """Paint this state of the rack."""
        self._view = view
        self.setAccessibleName(self._spoken(view))
        self.update()

    @staticmethod
    def _spoken(view: RackView) -> str:
        parts = [f"rep {r.number} {velocity_words(r.mean_velocity_m_s or 0)}" for r in placed_reps(view)]
        if view.usual:
            low, high = velocity_words(view.usual.low_m_s), velocity_words(view.usual.high_m_s)
            parts.insert(0, f"usual {low} to {high}")
        return "velocity scale: " + ", ".join(parts or ["empty"])

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Bands first, ticks on top, words below."""
        if self._view is None:
            return
        span = scale_range(self._view)
        track = self._track()
        self._axis(painter, track)
        self._usual(painter, track, span)
        self._target(painter, track, span)
        self._stop(painter, track, span)
        self._reps(painter, letter, track, span)
        self._words(letter, track, span)

    def _track(self) -> QRectF:
        """The stretch between the numbers above and the words below."""
        metrics = self.look.metrics
        side = metrics.gap * 1.5
        top = metrics.cap_px(TextSize.READING) + metrics.gap
        bottom = metrics.line_px(TextSize.COACH) + metrics.gap * 0.8
        return QRectF(side, top, self.width() - 2 * side, max(8.0, self.height() - top - bottom))

    @staticmethod
    def _x(track: QRectF, span: ScaleRange, velocity: float) -> float:
        return track.left() + span.position(velocity) * track.width()

    def _axis(self, painter: QPainter, track: QRectF) -> None:
        painter.setPen(QPen(QColor(self.look.palette.line), self.look.metrics.hairline))
        painter.drawLine(track.bottomLeft(), track.bottomRight())
        for end in (track.left(), track.right()):
            painter.drawLine(
                QPointF(end, track.bottom() - self.look.metrics.gap), QPointF(end, track.bottom())
            )

    def _usual(self, painter: QPainter, track: QRectF, span: ScaleRange) -> None:
        usual = self._view.usual if self._view else None
        if usual is None:
            return
        left, right = self._x(track, span, usual.low_m_s), self._x(track, span, usual.high_m_s)
        box = QRectF(left, track.top() + track.height() * 0.3, right - left, track.height() * 0.7)
        fill = QColor(self.look.palette.usual)
        fill.setAlpha(BAND_ALPHA if usual.enough_history else 0)
        style = Qt.PenStyle.SolidLine if usual.enough_history else Qt.PenStyle.DashLine
        painter.setPen(QPen(QColor(self.look.palette.usual), self.look.metrics.hairline, style))
        painter.setBrush(fill)
        painter.drawRect(box)

    def _target(self, painter: QPainter, track: QRectF, span: ScaleRange) -> None:
        """A bracket, open below: another shape than the usual range."""
        band = self._view.target_band_m_s if self._view else None
        if band is None:
            return
        left, right = self._x(track, span, band[0]), self._x(track, span, band[1])
        top, foot = track.top() + self.look.metrics.stroke, track.top() + track.height() * 0.3
        painter.setPen(QPen(QColor(self.look.palette.target), self.look.metrics.stroke))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolyline(
            [QPointF(left, foot), QPointF(left, top), QPointF(right, top), QPointF(right, foot)]
        )

    def _stop(self, painter: QPainter, track: QRectF, span: ScaleRange) -> None:
        """A dash-dotted wall with a foot that points to the slower side."""
        stop = stop_velocity_m_s(self._view) if self._view else None
        if stop is None:
            return
        x, stroke = self._x(track, span, stop), self.look.metrics.stroke
        painter.setPen(QPen(QColor(self.look.palette.alert), stroke, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(x, track.top()), QPointF(x, track.bottom()))
        painter.setPen(QPen(QColor(self.look.palette.alert), stroke))
        painter.drawLine(QPointF(x, track.bottom()), QPointF(x - 3 * stroke, track.bottom()))

    def _reps(self, painter: QPainter, letter: Letterer, track: QRectF, span: ScaleRange) -> None:
        reps = placed_reps(self._view) if self._view else ()
        if not reps:
            return
        xs = [self._x(track, span, rep.mean_velocity_m_s or 0.0) for rep in reps]
        for rep, x in zip(reps, xs, strict=True):
            self._tick(painter, track, span, rep, x, last=rep is reps[-1])
        self._numbers(letter, track, reps, xs)

    def _tick(
        self, painter: QPainter, track: QRectF, span: ScaleRange, rep: RepView, x: float, *, last: bool
    ) -> None:
        metrics, ink = self.look.metrics, QColor(self.look.palette.ink)
        width = 2.5 * metrics.stroke if last else metrics.stroke
        top = track.top() if last else track.top() + track.height() * 0.35
        style = Qt.PenStyle.SolidLine if rep.status is RepStatus.MEASURED else Qt.PenStyle.DotLine
        painter.setPen(QPen(ink, width, style, Qt.PenCapStyle.FlatCap))
        painter.drawLine(QPointF(x, top), QPointF(x, track.bottom()))
        arm = 2.5 * metrics.stroke
        middle = track.top() + track.height() * 0.65
        painter.setPen(QPen(ink, metrics.hairline))
        if rep.status is RepStatus.UNCERTAIN and rep.uncertainty_m_s is not None:
            low = self._x(track, span, (rep.mean_velocity_m_s or 0.0) - rep.uncertainty_m_s)
            high = self._x(track, span, (rep.mean_velocity_m_s or 0.0) + rep.uncertainty_m_s)
            painter.drawLine(QPointF(low, middle), QPointF(high, middle))
        elif rep.status in (RepStatus.STRUCK, RepStatus.FAILED):
            painter.drawLine(QPointF(x - arm, middle - arm), QPointF(x + arm, middle + arm))
            painter.drawLine(QPointF(x - arm, middle + arm), QPointF(x + arm, middle - arm))

    def _numbers(self, letter: Letterer, track: QRectF, reps: tuple[RepView, ...], xs: list[float]) -> None:
        """The last rep's number large; earlier ones small, where there is room."""
        metrics = self.look.metrics
        sizes = [TextSize.READING if rep is reps[-1] else TextSize.COACH for rep in reps]
        widths = [letter.width(str(r.number), s, strong=True) for r, s in zip(reps, sizes, strict=True)]
        rows = in_rows(xs, widths, metrics.gap * 0.5, NUMBER_ROWS)
        for rep, size, x, width, row in zip(reps, sizes, xs, widths, rows, strict=True):
            if row is None:
                continue
            bottom = track.top() - metrics.gap * 0.5
            if size is TextSize.COACH:
                bottom += track.height() * 0.35 - row * metrics.cap_px(TextSize.COACH) * 1.3
            cap = metrics.cap_px(size)
            box = QRectF(x - width / 2, bottom - cap, width + 1, cap)
            letter.block(box, str(rep.number), size, 1, strong=rep is reps[-1])

    def _words(self, letter: Letterer, track: QRectF, span: ScaleRange) -> None:
        """Below the track: what each mark is, and the ends of the scale."""
        view = self._view
        if view is None:
            return
        words = [velocity_words(span.low_m_s), f"{velocity_words(span.high_m_s)} m/s"]
        centres = [track.left(), track.right()]
        if view.usual:
            words.append("usual" if view.usual.enough_history else "usual, a guess")
            centres.append(self._x(track, span, (view.usual.low_m_s + view.usual.high_m_s) / 2))
        if view.target_band_m_s:
            words.append("target")
            centres.append(self._x(track, span, sum(view.target_band_m_s) / 2))
        stop = stop_velocity_m_s(view)
        if stop is not None:
            words.append("stop")
            centres.append(self._x(track, span, stop))
        widths = [letter.width(word, TextSize.COACH) for word in words]
        metrics = self.look.metrics
        cap = metrics.cap_px(TextSize.COACH)
        top = track.bottom() + metrics.gap * 0.8
        for word, left, width in zip(
            words, spread(centres, widths, 0.0, self.width(), metrics.gap), widths, strict=True
        ):
            letter.block(QRectF(left, top, width + 1, cap), word, TextSize.COACH, 1)
