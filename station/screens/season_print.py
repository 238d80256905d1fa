"""An athlete's season on paper: warm-up speed, estimated 1RM and jumps over time, load-velocity line then and now."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from station.capture.athlete_season import AthleteSeason, LineThen
from station.capture.rack_view import Unit
from station.readiness.plates import KG_PER_LB, load_words
from station.readiness.season import SeasonTrend, Trend
from station.screens.a4_flow import SMALL_PT, TITLE_PT, A4Flow
from station.screens.own_copy_print import CAUTION
from station.screens.print_charts import DayChart, DayPoint, Falling, draw_lines
from station.screens.squad_wording import stamp

CHART_MM = 44.0
MARKS = (
    "Wedges at the foot are matches; dotted lines are days on which sensor or bar became another; hollow dots do not "
    "count."
)
NOT_TO_TRY = "An estimate from warm-up speeds with its 80 % interval, not permission to try it."


def print_season(season: AthleteSeason, file: Path, now: datetime, unit: Unit = "kg") -> Path:
    """Write the PDF.

    Args:
        now: stands on the page.
        unit: of loads.

    Raises:
        PrintFailed: the file cannot be written.
    """
    title = f"{season.name}: {season.lift}, {season.first:%d %b %Y} to {season.last:%d %b %Y}"
    with A4Flow(file, title, f"{CAUTION} Printed {stamp(now)}.") as page:
        page.words(title, TITLE_PT, strong=True)
        for sentence in (*trend_words(season.trend), *season.missing):
            page.words(sentence)
        page.words(MARKS, SMALL_PT)
        _warmups(page, season, unit)
        _one_rm(page, season, unit)
        _jumps(page, season)
        _lines(page, season, unit)
    return file


def trend_words(trend: SeasonTrend | None) -> tuple[str, ...]:
    """Whether strength was held, in a sentence; () where there is nothing to say it from."""
    if trend is None:
        return ()
    over = f"the last {trend.weeks:.0f} weeks"
    if trend.trend is Trend.CANNOT_SAY or trend.change is None or trend.low is None or trend.high is None:
        return (f"Whether strength was held over {over} cannot be said yet.",)
    change = f"{_percent(trend.change)} ({_percent(trend.low)} to {_percent(trend.high)})"
    return (f"Strength over {over}: {trend.trend}, {change}.",)


def _percent(share: float) -> str:
    whole = round(100 * share)
    return f"{whole:+d} %".replace("-", "−") if whole else "0 %"


def _warmups(page: A4Flow, season: AthleteSeason, unit: Unit) -> None:
    if not season.warmups or season.warmup_load_kg is None:
        return
    page.heading(f"Warm-up speed at {load_words(season.warmup_load_kg, unit)}, m/s", CHART_MM + 10)
    usual = season.usual
    band = (usual.low_m_s, usual.high_m_s) if usual is not None and usual.enough_history else None
    points = [DayPoint(p.day, p.mean_velocity_m_s, full=p.counted) for p in season.warmups]
    _days(page, season, points, "m/s", band)
    if band is not None:
        page.words(
            f"The band is the own usual range as of {season.last}: {band[0]:.2f} to {band[1]:.2f} m/s.",
            SMALL_PT,
        )


def _one_rm(page: A4Flow, season: AthleteSeason, unit: Unit) -> None:
    if not season.one_rm:
        return
    page.heading(f"Estimated one-repetition maximum, {unit}", CHART_MM + 10)
    per_kg = _per_kg(unit)
    points = [DayPoint(p.day, p.kg * per_kg, p.low_kg * per_kg, p.high_kg * per_kg) for p in season.one_rm]
    _days(page, season, points, unit, None)
    page.words(NOT_TO_TRY, SMALL_PT)


def _jumps(page: A4Flow, season: AthleteSeason) -> None:
    if not season.jumps:
        return
    page.heading("Countermovement jump, mean of the day's trials, cm", CHART_MM + 10)
    points = [DayPoint(p.day, 100 * p.mean_m) for p in season.jumps]
    _days(page, season, points, "cm", None)


def _lines(page: A4Flow, season: AthleteSeason, unit: Unit) -> None:
    both = [line for line in (season.then, season.now) if line is not None]
    if not both:
        return
    then = f"dashed and hollow: {season.then.day}; " if season.then is not None else ""
    page.heading("Load and velocity", CHART_MM + 10)
    lines = [_falling(line, dashed=line is season.then) for line in both]
    page.chart(CHART_MM, lambda painter, box: draw_lines(painter, box, lines, _per_kg(unit), unit))
    page.words(f"{then}full: {both[-1].day}. Velocity in m/s over load in {unit}.", SMALL_PT)


def _falling(line: LineThen, *, dashed: bool) -> Falling:
    return Falling(line.line.intercept_m_s, line.line.slope_m_s_per_kg, line.sets, dashed)


def _days(
    page: A4Flow,
    season: AthleteSeason,
    points: Sequence[DayPoint],
    unit: str,
    band: tuple[float, float] | None,
) -> None:
    chart = DayChart(points, season.first, season.last, unit, band, season.matches, season.changed)
    page.chart(CHART_MM, chart.draw)


def _per_kg(unit: Unit) -> float:
    return 1.0 / KG_PER_LB if unit == "lb" else 1.0
