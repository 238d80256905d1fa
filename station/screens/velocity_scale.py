"""One velocity scale that carries everything: usual range, target band, stop, and the reps as numbered ticks."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from station.capture.rack_view import RackView
from station.screens.lettering import Letterer
from station.screens.painted import Painted
from station.screens.rep_ticks import SHORT_FROM, RepTicks
from station.screens.scale_layout import (
    ScaleRange,
    marks_of,
    placed_reps,
    scale_range,
    spread,
    stop_velocity_m_s,
)
from station.screens.theme import TextSize
from station.screens.wording import velocity_words

BAND_ALPHA = 70
TRACK_CAPS, LEAST_TRACK_CAPS = 2.8, 0.6
KeyMark = Callable[[QPainter, QRectF], None]


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
        reps = self._view.set.reps if self._view.set else ()
        RepTicks(self.look, track, span, reps).paint(painter, letter)
        self._words(letter, painter, track, span)

    def height_wanted(self) -> int:
        """Pixels for numbers, track and words."""
        return round(sum(self._margins()) + TRACK_CAPS * self.look.metrics.cap_px(TextSize.COACH))

    def height_needed(self) -> int:
        """With fewer pixels than this it says nothing any more."""
        return round(sum(self._margins()) + LEAST_TRACK_CAPS * self.look.metrics.cap_px(TextSize.COACH))

    def _margins(self) -> tuple[float, float]:
        """Room for the numbers above the track and the words below it."""
        metrics = self.look.metrics
        return (
            metrics.cap_px(TextSize.READING) + metrics.gap,
            metrics.cap_px(TextSize.COACH) * 1.4 + metrics.gap,
        )

    def _track(self) -> QRectF:
        """The stretch between the numbers above and the words below."""
        metrics = self.look.metrics
        side = metrics.font_px(TextSize.READING) * 0.6  # half of a two-digit rep number at either end
        top, bottom = self._margins()
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
        usual = marks_of(self._view)[0] if self._view else None
        if usual is None:
            return
        left, right = self._x(track, span, usual.low_m_s), self._x(track, span, usual.high_m_s)
        box = QRectF(
            left, track.top() + track.height() * SHORT_FROM, right - left, track.height() * (1 - SHORT_FROM)
        )
        self._band(painter, box, dashed=not usual.enough_history)

    def _band(self, painter: QPainter, box: QRectF, *, dashed: bool) -> None:
        """Filled where history draws it, a dashed outline where it is a guess."""
        fill = QColor(self.look.palette.usual)
        fill.setAlpha(0 if dashed else BAND_ALPHA)
        style = Qt.PenStyle.DashLine if dashed else Qt.PenStyle.SolidLine
        painter.setPen(QPen(QColor(self.look.palette.usual), self.look.metrics.hairline, style))
        painter.setBrush(fill)
        painter.drawRect(box)

    def _target(self, painter: QPainter, track: QRectF, span: ScaleRange) -> None:
        band = marks_of(self._view)[1] if self._view else None
        if band is None:
            return
        left, right = self._x(track, span, band[0]), self._x(track, span, band[1])
        top = track.top() + track.height() * 0.12
        self._bracket(painter, left, right, top, track.top() + track.height() * SHORT_FROM)

    def _bracket(self, painter: QPainter, left: float, right: float, top: float, foot: float) -> None:
        """Open below: another shape than the usual range."""
        painter.setPen(QPen(QColor(self.look.palette.target), self.look.metrics.stroke))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolyline(
            [QPointF(left, foot), QPointF(left, top), QPointF(right, top), QPointF(right, foot)]
        )

    def _stop(self, painter: QPainter, track: QRectF, span: ScaleRange) -> None:
        stop = stop_velocity_m_s(self._view) if self._view else None
        if stop is not None:
            self._wall(painter, self._x(track, span, stop), track.top(), track.bottom())

    def _wall(self, painter: QPainter, x: float, top: float, bottom: float) -> None:
        """A dashed wall with a foot that points to the slower side."""
        stroke = self.look.metrics.stroke
        painter.setPen(QPen(QColor(self.look.palette.alert), stroke, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(x, top), QPointF(x, bottom))
        painter.setPen(QPen(QColor(self.look.palette.alert), stroke))
        painter.drawLine(QPointF(x, bottom), QPointF(x - 2 * stroke, bottom))

    def _words(self, letter: Letterer, painter: QPainter, track: QRectF, span: ScaleRange) -> None:
        """Below the track: the ends of the scale, and what each mark is, with the mark before the word."""
        view = self._view
        if view is None:
            return
        metrics = self.look.metrics
        unit = "m/s" if view.figure == "mean" else "m/s mean"  # the scale is always that of the mean velocity
        labels: list[tuple[str, float, KeyMark | None]] = [
            (velocity_words(span.low_m_s), track.left(), None),
            (f"{velocity_words(span.high_m_s)} {unit}", track.right(), None),
        ]
        usual, target = marks_of(view)
        if usual:
            word = "usual" if usual.enough_history else "usual, a guess"
            middle = (usual.low_m_s + usual.high_m_s) / 2
            labels.append((word, self._x(track, span, middle), self._usual_key))
        if target:
            labels.append(("target", self._x(track, span, sum(target) / 2), self._target_key))
        stop = stop_velocity_m_s(view)
        if stop is not None:
            labels.append(("stop", self._x(track, span, stop), self._stop_key))
        key = metrics.cap_px(TextSize.COACH) + metrics.gap
        widths = [letter.width(w, TextSize.COACH) + (key if mark else 0) for w, _, mark in labels]
        edges = spread([centre for _, centre, _ in labels], widths, 0.0, self.width(), 1.6 * metrics.gap)
        cap, top = metrics.cap_px(TextSize.COACH), track.bottom() + metrics.gap * 0.9
        for (word, _, mark), left, width in zip(labels, edges, widths, strict=True):
            if mark is not None:
                mark(painter, QRectF(left, top, cap, cap))
            indent = key if mark else 0
            letter.block(QRectF(left + indent, top, width - indent + 1, cap), word, TextSize.COACH, 1)

    def _usual_key(self, painter: QPainter, box: QRectF) -> None:
        usual = self._view.usual if self._view else None
        self._band(painter, box, dashed=usual is not None and not usual.enough_history)

    def _target_key(self, painter: QPainter, box: QRectF) -> None:
        self._bracket(
            painter, box.left(), box.right(), box.top() + self.look.metrics.stroke / 2, box.bottom()
        )

    def _stop_key(self, painter: QPainter, box: QRectF) -> None:
        self._wall(painter, box.center().x(), box.top(), box.bottom())
