"""The athlete's part of the jump line: the big number, the trials, mean and best on the own usual range."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from station.capture.jump_view import JumpLineView
from station.screens.lettering import Align, Letterer
from station.screens.painted import Painted, plate
from station.screens.theme import TextSize
from station.squad.jumps import JumpTrial

CM = 100.0
LEAST_HALF_SPAN_CM = 4.0


def cm(height_m: float) -> str:
    """A height as it is shown."""
    return f"{CM * height_m:.1f}"


class JumpNumber(Painted):
    """The last trial's height; before any, who is up and what to do; "again, please" when it does not count."""

    _view: JumpLineView | None = None

    def show_view(self, view: JumpLineView) -> None:
        """Paint this state of the line."""
        self._view = view
        self.setAccessibleName(self.spoken())
        self.update()

    def spoken(self) -> str:
        """What stands here, in words."""
        view = self._view
        if view is None or view.current is None:
            return "nobody in line"
        if not view.trials:
            return f"{view.current.name}: stand still, then jump, hands on the hips"
        if view.again:
            return f"{view.current.name}: again, please: {view.again}"
        return f"{view.current.name}: {cm(view.trials[-1].height_m)} centimetres"

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Name, number, mean and best."""
        view, metrics = self._view, self.look.metrics
        if view is None:
            return
        if view.current is None:
            letter.block(QRectF(0, 0, self.width(), 0), "Nobody in line", TextSize.GLANCE, 2, strong=True)
            return
        number = f"{view.current.shirt_number} " if view.current.shirt_number is not None else ""
        box = QRectF(0, 0, self.width(), 0)
        used = letter.block(box, f"{number}{view.current.name}", TextSize.GLANCE, 1, strong=True)
        below = QRectF(0, used.bottom() + 2.2 * metrics.gap, self.width(), 0)
        below.setBottom(self.height())
        if not view.trials:
            below.setTop(below.top() + metrics.line_px(TextSize.READING) / 2)
            letter.block(below, "Stand still, then jump. Hands on the hips.", TextSize.READING, 2)
        elif view.again:
            self._again(painter, below, view.again)
        else:
            self._number(letter, below, view)

    def _number(self, letter: Letterer, box: QRectF, view: JumpLineView) -> None:
        metrics, last = self.look.metrics, view.trials[-1]
        cap = metrics.cap_px(TextSize.NUMBER)
        place = QRectF(0, box.top() + max((box.height() - cap) / 2, 0), box.width(), cap)
        used = letter.block(place, cm(last.height_m), TextSize.NUMBER, 1, strong=True)
        beside = QRectF(
            used.right() + 2 * metrics.gap, used.top(), self.width() - used.right() - 2 * metrics.gap, 0
        )
        used = letter.block(beside, "cm", TextSize.READING, 1)
        rsi = last.reactive_strength_m_s
        sure = f"± {cm(last.uncertainty_m)}" if last.uncertainty_m is not None else ""
        trials = f"trial {len(view.trials)}: {trial_words(view.trials)}"
        lines = [sure, trials, f"height over time to take-off {rsi:.2f}" if rsi else ""]
        for words in filter(None, lines):
            beside.setTop(used.bottom() + 1.6 * metrics.gap)
            used = letter.block(beside, words, TextSize.COACH, 2)

    def _again(self, painter: QPainter, box: QRectF, why: str) -> None:
        """A plate, so that it is another shape and not only other words."""
        metrics, palette = self.look.metrics, self.look.palette
        plate(painter, box, self.look, fill=palette.ink)
        letter = Letterer(painter, self.look, ink=palette.ground, ground=palette.ink)
        inner = box.adjusted(2 * metrics.gap, 2.5 * metrics.gap, -2 * metrics.gap, 0)
        used = letter.block(inner, "Again, please", TextSize.GLANCE, 1, strong=True)
        inner.setTop(used.bottom() + 2.5 * metrics.gap)
        letter.block(inner, why, TextSize.READING, 2)


class JumpScale(Painted):
    """One height scale: the own usual range of a day like today, the trials as numbered ticks, the mean as a mark."""

    _view: JumpLineView | None = None

    def show_view(self, view: JumpLineView) -> None:
        """Paint this state of the line."""
        self._view = view
        self.setAccessibleName(f"{self.title()} {self.verdict()}")
        self.update()

    def title(self) -> str:
        """Mean, best and what day it is."""
        view = self._view
        if view is None:
            return ""
        if view.mean_m is None or view.best_m is None:
            return view.day_kind
        return f"mean {cm(view.mean_m)} · best {cm(view.best_m)} cm"

    def verdict(self) -> str:
        """Where the mean lies, for what kind of day."""
        view = self._view
        if view is None or not view.verdict:
            return ""
        return view.verdict if "like today" in view.verdict else f"{view.verdict} for {view.day_kind}"

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """Title and verdict above, the scale below."""
        view, metrics, palette = self._view, self.look.metrics, self.look.palette
        if view is None or view.current is None:
            return
        line = metrics.line_px(TextSize.READING)
        letter.line(QRectF(0, 0, self.width(), line), self.title(), TextSize.READING)
        letter.line(QRectF(0, line, self.width(), line), self.verdict(), TextSize.READING, strong=True)
        scale = self._scale(view)
        if scale is None:
            return
        low, high = scale
        y = self.height() - metrics.line_px(TextSize.COACH) - 2.2 * metrics.gap

        def along(height_m: float) -> float:
            share = (CM * height_m - low) / (high - low)
            return float(min(max(share, 0.02), 0.98) * self.width())

        painter.setPen(QPen(QColor(palette.line), metrics.hairline))
        painter.drawLine(QPointF(0, y), QPointF(self.width(), y))
        usual = view.usual
        if usual is not None and usual.low_m is not None and usual.high_m is not None:
            painter.setPen(
                QPen(QColor(palette.usual), 3 * metrics.stroke, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap)
            )
            painter.drawLine(QPointF(along(usual.low_m), y), QPointF(along(usual.high_m), y))
        for n, trial in enumerate(view.trials, 1):
            if trial.valid:
                self._tick(painter, letter, along(trial.height_m), y, n)
        if view.mean_m is not None:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(palette.ink))
            painter.drawEllipse(QPointF(along(view.mean_m), y), metrics.gap, metrics.gap)
        row = QRectF(
            0, self.height() - metrics.line_px(TextSize.COACH), self.width(), metrics.line_px(TextSize.COACH)
        )
        letter.line(row, f"{low:.0f} cm", TextSize.COACH)
        letter.line(row, f"{high:.0f} cm", TextSize.COACH, align=Align.RIGHT)

    def _tick(self, painter: QPainter, letter: Letterer, x: float, y: float, number: int) -> None:
        metrics = self.look.metrics
        painter.setPen(QPen(QColor(self.look.palette.ink), metrics.stroke))
        painter.drawLine(QPointF(x, y - 2 * metrics.gap), QPointF(x, y))

    @staticmethod
    def _scale(view: JumpLineView) -> tuple[float, float] | None:
        """Lowest and highest whole centimetre of the scale."""
        marks = [CM * t.height_m for t in view.trials if t.valid]
        if view.usual is not None and view.usual.low_m is not None and view.usual.high_m is not None:
            marks += [CM * view.usual.low_m, CM * view.usual.high_m]
        if not marks:
            return None
        middle = (max(marks) + min(marks)) / 2
        half = max((max(marks) - min(marks)) / 2 * 1.3, LEAST_HALF_SPAN_CM)
        return float(int(middle - half)), float(int(middle + half) + 1)


def trial_words(trials: tuple[JumpTrial, ...]) -> str:
    """The trials in a line: "31.2, 32.0, again"."""
    return ", ".join(cm(t.height_m) if t.valid else "again" for t in trials)
