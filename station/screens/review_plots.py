"""Curves of a set: every rep laid over the others, the course in time, the raw acceleration."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QVBoxLayout, QWidget

from drivers.samples import FloatArray
from station.capture.review_set import RepLine
from station.capture.see_again import SeenAgain
from station.screens.lettering import Align, Letterer
from station.screens.painted import Painted
from station.screens.theme import Look, TextSize
from station.screens.typeface import font

BAND_ALPHA = 60
MOST_POINTS = 20_000


class PlotTitle(Painted):
    """A line of words above a plot; where there is too little room it is cut short, never drawn over anything."""

    words = ""

    def say(self, words: str) -> None:
        """Paint these."""
        self.words = words
        self.setToolTip(words)
        self.update()

    def paint(self, painter: QPainter, letter: Letterer) -> None:
        """In the middle."""
        letter.line(QRectF(self.rect()), self.words, TextSize.COACH, align=Align.CENTRE)


class ReviewPlot(QWidget):
    """A plot with its title above; the wheel makes it larger, a drag moves it."""

    def __init__(self, title: str, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.title = PlotTitle(look, self)
        self.title.setFixedHeight(round(1.5 * look.metrics.line_px(TextSize.COACH)))
        self.plot = pg.PlotWidget(self)
        self.plot.setMenuEnabled(False)
        self.plot.hideButtons()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.title)
        layout.addWidget(self.plot)
        palette, face = look.palette, font(look.metrics, TextSize.COACH)
        self.plot.setBackground(palette.ground)
        for side in ("left", "bottom"):
            axis = self.plot.getAxis(side)
            axis.enableAutoSIPrefix(False)
            axis.setPen(pg.mkPen(palette.line))
            axis.setTextPen(palette.ink)
            axis.setStyle(tickFont=face, maxTickLevel=0)
        cap = look.metrics.cap_px(TextSize.COACH)
        self.plot.getAxis("left").setTickDensity(0.6)
        self.plot.getAxis("left").setWidth(round(3.6 * cap))
        self.plot.getAxis("bottom").setHeight(round(1.9 * cap))
        self.plot.getPlotItem().layout.setContentsMargins(0, round(0.7 * cap), 3 * look.metrics.gap, 0)
        self.say(title)

    def say(self, title: str) -> None:
        """The words above the plot, also for a screen reader."""
        self.title.say(title)
        self.plot.setAccessibleName(title)

    def show_all(self) -> None:
        """Everything that is painted, with room for words above it; also while nobody sees the plot."""
        items = self.plot.getPlotItem().listDataItems()
        found = [
            [item.dataBounds(axis) for item in items if item.dataBounds(axis)[0] is not None]
            for axis in (0, 1)
        ]
        if not all(found):
            return
        (left, right), (low, high) = ((min(b[0] for b in own), max(b[1] for b in own)) for own in found)
        self.plot.setXRange(left, right, padding=0.03)
        room = max(high - low, 1e-3)
        self.plot.setYRange(low - 0.05 * room, high + 0.45 * room, padding=0)

    def pen(self, *, strong: bool = False, dashed: bool = False) -> object:
        """A line of a curve: the chosen one is thick ink, others thin."""
        metrics, palette = self.look.metrics, self.look.palette
        style = Qt.PenStyle.DashLine if dashed else Qt.PenStyle.SolidLine
        colour = palette.ink if strong else palette.line if dashed else palette.usual
        return pg.mkPen(colour, width=metrics.stroke if strong else metrics.hairline, style=style)

    def label(self, words: str, x: float, y: float) -> None:
        """A word at a place of the plot."""
        item = pg.TextItem(words, color=self.look.palette.ink, anchor=(0.5, 1.0))
        item.setFont(font(self.look.metrics, TextSize.COACH))
        item.setPos(x, y)
        self.plot.addItem(item)

    def band(self, start: float, end: float) -> None:
        """A stretch of time that is meant."""
        fill = pg.mkColor(self.look.palette.usual)
        fill.setAlpha(BAND_ALPHA)
        region = pg.LinearRegionItem((start, end), movable=False, brush=fill, pen=pg.mkPen(None))
        region.setZValue(-10)
        self.plot.addItem(region)


class OverlaidCurves(ReviewPlot):
    """Velocity of every rep from its own start on."""

    def show_reps(self, reps: Sequence[RepLine], chosen: Sequence[str]) -> None:
        """Paint these; the chosen ones stand out, struck ones are dashed."""
        self.plot.clear()
        self.plot.addLine(y=0.0, pen=pg.mkPen(self.look.palette.line))
        drawn = [rep for rep in reps if len(rep.curve_time_s)]
        for rep in sorted(drawn, key=lambda one: one.rep_id in chosen):
            pen = self.pen(strong=rep.rep_id in chosen, dashed=rep.struck)
            self.plot.plot(rep.curve_time_s, rep.curve_m_s, pen=pen)
            top = int(np.argmax(rep.curve_m_s))
            self.label(rep.name, float(rep.curve_time_s[top]), float(rep.curve_m_s[top]))
        self.show_all()
        words = "velocity of every rep, m/s over s from its start"
        self.say(words if drawn else "no velocity curves were kept of this set")


class CourseInTime(ReviewPlot):
    """Velocity over the whole set: of the reps as measured, or from the raw samples where they are here."""

    def show_reps(self, reps: Sequence[RepLine], chosen: Sequence[str]) -> None:
        """The reps' own curves where they happened."""
        self.plot.clear()
        self.plot.addLine(y=0.0, pen=pg.mkPen(self.look.palette.line))
        drawn = [rep for rep in reps if len(rep.curve_time_s)]
        first = min((rep.start_time_s for rep in drawn), default=0.0)
        for rep in drawn:
            at = rep.start_time_s - first
            pen = self.pen(strong=rep.rep_id in chosen, dashed=rep.struck)
            self.plot.plot(rep.curve_time_s + at, rep.curve_m_s, pen=pen)
            self.label(rep.name, at + float(rep.curve_time_s.mean()), float(rep.curve_m_s.max()))
        self.show_all()
        self.say("velocity in time, m/s over s from the first rep" if drawn else "")

    def show_seen(self, seen: SeenAgain) -> None:
        """The velocity between the reps too, by today's engine."""
        self.plot.clear()
        self.plot.addLine(y=0.0, pen=pg.mkPen(self.look.palette.line))
        time_s, velocity = seen.velocity
        self.plot.plot(*thinned(time_s, velocity), pen=self.pen())
        for rep in seen.reps:
            self.band(rep.start_time_s, rep.end_time_s)
            high = 0.0 if rep.curve_m_s is None else float(rep.curve_m_s.max(initial=0.0))
            self.label(str(rep.number or "–"), (rep.start_time_s + rep.end_time_s) / 2, high)
        self.show_all()
        self.say("velocity in time by today's engine, m/s over s")


class RawTrace(ReviewPlot):
    """Size of the acceleration as the sensor sent it."""

    def show_seen(self, seen: SeenAgain) -> None:
        """Paint it, the reps as bands."""
        self.plot.clear()
        self.plot.plot(*thinned(seen.time_s, seen.acc_m_s2), pen=self.pen())
        for rep in seen.reps:
            self.band(rep.start_time_s, rep.end_time_s)
        self.show_all()
        self.say("raw acceleration, m/s² over s, uncalibrated")


def thinned(x: FloatArray, y: FloatArray, most: int = MOST_POINTS) -> tuple[FloatArray, FloatArray]:
    """No more points than can be seen."""
    step = max(1, -(-x.size // most))
    return x[::step], y[::step]
