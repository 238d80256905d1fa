"""Plots of an athlete's season: points over days with matches and changes of equipment, and two lines over load."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from drivers.samples import FloatArray
from station.capture.athlete_season import AthleteSeason, LineThen
from station.capture.rack_view import Unit
from station.readiness.plates import KG_PER_LB
from station.screens.review_plots import ReviewPlot
from station.screens.theme import Look

CM = 100.0
MOST_MONTHS = 6
LOWEST_M_S = 0.2  # lines are drawn down to this: about the speed at 1RM


class SeasonPlot(ReviewPlot):
    """Something over the days of a season. A match is a wedge at the foot, a change of equipment a dotted wall."""

    def __init__(self, title: str, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(title, look, parent)
        self.plot.setMouseEnabled(False, False)

    def begin(self, season: AthleteSeason, values: Sequence[float]) -> None:
        """An empty plot over the season's days, high enough for these values."""
        self.plot.clear()
        low, high = min(values), max(values)
        room = max(high - low, 1e-3) * 0.15
        foot = low - 2.2 * room
        first, last = season.first.toordinal(), season.last.toordinal()
        self.plot.setXRange(first - 2, last + 2, padding=0.01)
        self.plot.setYRange(foot, high + room, padding=0)
        self.plot.getAxis("left").setTicks(None)
        self.plot.getAxis("bottom").setTicks([_months(season.first, season.last)])
        for day in season.changed:
            self.plot.addItem(self._wall(day.toordinal()))
        size = 1.4 * self.look.metrics.gap
        self.plot.plot(
            [day.toordinal() for day in season.matches],
            [foot + 0.5 * room] * len(season.matches),
            pen=None,
            symbol="t1",
            symbolSize=size,
            symbolBrush=self.look.palette.ink,
            symbolPen=None,
        )

    def points(self, days: Sequence[date], values: Sequence[float], counted: Sequence[bool]) -> None:
        """A dot a day; hollow where it does not count."""
        palette = self.look.palette
        self.plot.plot(
            [day.toordinal() for day in days],
            list(values),
            pen=pg.mkPen(palette.line, width=1),
            symbol="o",
            symbolSize=1.1 * self.look.metrics.gap,
            symbolPen=pg.mkPen(palette.ink, width=self.look.metrics.hairline),
            symbolBrush=[palette.ink if yes else palette.ground for yes in counted],
        )

    def level(self, low: float, high: float) -> None:
        """The usual range, across."""
        fill = pg.mkColor(self.look.palette.usual)
        fill.setAlpha(60)
        edge = pg.mkPen(self.look.palette.usual, width=self.look.metrics.hairline)
        region = pg.LinearRegionItem((low, high), "horizontal", movable=False, brush=fill, pen=edge)
        region.setZValue(-10)
        self.plot.addItem(region)

    def intervals(self, days: Sequence[date], low: Sequence[float], high: Sequence[float]) -> None:
        """An upright bar a day."""
        below, above = np.asarray(low), np.asarray(high)
        bars = pg.ErrorBarItem(
            x=np.array([float(day.toordinal()) for day in days]),
            y=(below + above) / 2,
            height=above - below,
            beam=0.0,
            pen=pg.mkPen(self.look.palette.usual, width=self.look.metrics.hairline),
        )
        bars.setZValue(-5)
        self.plot.addItem(bars)

    def nothing(self, words: str) -> None:
        """Nothing to show, and why."""
        self.plot.clear()
        for side in ("left", "bottom"):
            self.plot.getAxis(side).setTicks([[]])
        self.say(words)

    def _wall(self, at: float) -> object:
        pen = pg.mkPen(self.look.palette.ink, width=self.look.metrics.hairline, style=Qt.PenStyle.DotLine)
        return pg.InfiniteLine(at, angle=90, pen=pen)


class LinesPlot(ReviewPlot):
    """Load-velocity lines: of then dashed with hollow dots, of now solid with full ones."""

    def show_lines(self, season: AthleteSeason, unit: Unit) -> None:
        """Paint both, or say why there is none."""
        self.plot.clear()
        shown = [one for one in (season.then, season.now) if one is not None]
        for side in ("left", "bottom"):
            self.plot.getAxis(side).setTicks(None if shown else [[]])
        if not shown:
            self.say("no load-velocity line yet")
            return
        per_unit = KG_PER_LB if unit == "lb" else 1.0
        loads = [load for one in shown for load, _ in one.sets]
        reach = [one.line.load_kg(LOWEST_M_S) for one in shown if one.line.slope_m_s_per_kg < 0.0]
        ends = np.array([min(loads) * 0.8, max([*loads, *reach])])
        for one in shown:
            self._one(one, ends, per_unit, now=one is season.now)
        self.show_all()
        form = "%d %b" if len({one.day.year for one in shown}) == 1 else "%b %Y"
        now = f"solid {season.now.day.strftime(form)}" if season.now is not None else ""
        then = f"dashed {season.then.day.strftime(form)}" if season.then is not None else ""
        self.say(f"m/s over {unit}: {', '.join(part for part in (now, then) if part)}")

    def _one(self, one: LineThen, ends_kg: FloatArray, per_unit: float, *, now: bool) -> None:
        speeds = one.line.intercept_m_s + one.line.slope_m_s_per_kg * ends_kg
        self.plot.plot(ends_kg / per_unit, speeds, pen=self.pen(strong=now, dashed=not now))
        self.plot.plot(
            [load / per_unit for load, _ in one.sets],
            [speed for _, speed in one.sets],
            pen=None,
            symbol="o",
            symbolSize=1.2 * self.look.metrics.gap,
            symbolPen=pg.mkPen(self.look.palette.ink, width=self.look.metrics.hairline),
            symbolBrush=self.look.palette.ink if now else self.look.palette.ground,
        )


def _months(first: date, last: date) -> list[tuple[float, str]]:
    """First days of months, not more than have room."""
    found, year, month = list[date](), first.year, first.month
    while (day := date(year, month, 1)) <= last:
        if day >= first:
            found.append(day)
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    step = max(1, -(-len(found) // MOST_MONTHS))
    ticks = [(float(day.toordinal()), f"{day:%b}") for day in found[::step]]
    return ticks or [(float(first.toordinal()), f"{first:%d %b}"), (float(last.toordinal()), f"{last:%d %b}")]
