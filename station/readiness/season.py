"""Over the season: is strength held, and which lifts have not been done for a while."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from station.readiness.prior import NO_SQUAD, SquadPrior
from station.readiness.today import WORTHWHILE_STRENGTH
from station.readiness.usual import athlete_model
from station.squad.sets import SetObservation

WEEKS_LOOKED_BACK = 8.0
NOT_DONE_FOR = timedelta(weeks=3)
_SESSIONS_NEEDED = 4


class Trend(StrEnum):
    """What strength has done."""

    HOLDING = "holding"
    RISING = "rising"
    FALLING = "falling"
    CANNOT_SAY = "cannot say"


@dataclass(frozen=True, slots=True)
class SeasonTrend:
    """Change of strength over the last weeks as a share, with its 80 % interval; None where it cannot be given."""

    trend: Trend
    weeks: float
    change: float | None
    low: float | None
    high: float | None


def season_trend(
    earlier: Sequence[SetObservation],
    warmup_load_kg: float,
    day: date,
    prior: SquadPrior = NO_SQUAD,
    weeks: float = WEEKS_LOOKED_BACK,
) -> SeasonTrend:
    """Whether strength is held, from the trend of the athlete's line.

    Rising or falling when the 80 % interval of the change leaves out zero, holding when it stays within 5 % of it,
    else it cannot be said.

    Args:
        earlier: one athlete and lift, in order of time.
        weeks: how far back; shortened to the first session where the history is shorter.
    """
    counted = [s for s in earlier if s.counts and s.day < day]
    days = {s.day for s in counted if (day - s.day).days <= 7 * weeks}
    if len(days) < _SESSIONS_NEEDED:
        return SeasonTrend(Trend.CANNOT_SAY, weeks, None, None, None)
    weeks = min(weeks, (day - min(days)).days / 7)
    posterior = athlete_model(counted, [], warmup_load_kg, day, prior).strength_since(weeks)
    fall = float(posterior.mean[1])
    if fall <= 0.0:
        return SeasonTrend(Trend.CANNOT_SAY, weeks, None, None, None)
    change, sd = posterior.of([1.0 / fall, 0.0])
    half = posterior.quantile(0.9) * sd
    return SeasonTrend(_trend(change - half, change + half), weeks, change, change - half, change + half)


def _trend(low: float, high: float) -> Trend:
    if low > 0.0:
        return Trend.RISING
    if high < 0.0:
        return Trend.FALLING
    return Trend.HOLDING if low >= -WORTHWHILE_STRENGTH and high <= WORTHWHILE_STRENGTH else Trend.CANNOT_SAY


def lifts_not_done(sets: Iterable[SetObservation], day: date) -> list[tuple[str, date]]:
    """Lifts an athlete used to do and has not done for three weeks: name and last day, longest ago first."""
    last: dict[str, date] = {}
    for one in sets:
        if one.day <= day:
            last[one.lift] = max(last.get(one.lift, one.day), one.day)
    overdue = [(lift, done) for lift, done in last.items() if day - done > NOT_DONE_FOR]
    return sorted(overdue, key=lambda pair: pair[1])
