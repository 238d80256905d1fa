"""One athlete's season as it is shown: warm-up speed, estimated 1RM, jumps, load-velocity line then and now.

Each session's 1RM is estimated from that session and those before it, as the rack would have on that day, with the
squad's experience as it is today.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from station.readiness.history import sessions_of, warmup_sets
from station.readiness.line import LoadVelocityLine
from station.readiness.prior import SquadPrior
from station.readiness.results import UsualRange, WarmupPoint
from station.readiness.season import SeasonTrend, season_trend
from station.readiness.today import TodayInputs, assess, athlete_line
from station.readiness.usual import usual_for_day
from station.squad.calendar import match_day_label
from station.squad.lifts import Lift
from station.squad.sets import SetObservation

# The line of then: of the session nearest to this long ago, where there are enough before it.
THEN = timedelta(weeks=12)
SESSIONS_FOR_A_LINE = 4


@dataclass(frozen=True, slots=True)
class OneRm:
    """A session's estimate of the one-repetition maximum with its 80 % interval, kg; not permission to try it."""

    day: date
    kg: float
    low_kg: float
    high_kg: float


@dataclass(frozen=True, slots=True)
class JumpPoint:
    """The mean of one day's valid trials, m, and what kind of day it was."""

    day: date
    mean_m: float
    kind: str


@dataclass(frozen=True, eq=False, slots=True)
class LineThen:
    """The load-velocity line of a session: the line, and the sets (load kg, velocity m/s) lifted in that session."""

    day: date
    line: LoadVelocityLine
    sets: tuple[tuple[float, float], ...]


@dataclass(frozen=True, eq=False, slots=True)
class AthleteSeason:
    """What the page shows; where something is missing, `missing` says so in sentences.

    Attributes:
        lifts: that this athlete has done, the one most done first.
        warmup_load_kg: the fixed load of the warm-up points.
        usual: of the day that is today.
        matches: match days in the season; `changed`: days on which sensor or bar became another.
        then, now: load-velocity lines.
    """

    athlete_id: str
    name: str
    lift: str
    lifts: tuple[str, ...]
    first: date
    last: date
    warmup_load_kg: float | None
    warmups: tuple[WarmupPoint, ...]
    usual: UsualRange | None
    one_rm: tuple[OneRm, ...]
    jumps: tuple[JumpPoint, ...]
    matches: tuple[date, ...]
    changed: tuple[date, ...]
    then: LineThen | None
    now: LineThen | None
    trend: SeasonTrend | None
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Known:
    """What the record has of one athlete and lift: sets in order of time, each with what kind of day it was."""

    lift: Lift
    load_kg: float | None
    sets: tuple[SetObservation, ...]
    prior: SquadPrior
    own_velocity_at_1rm_m_s: float | None


def season_of(
    known: Known,
    today: date,
    matches: Sequence[date],
    jumped: tuple[JumpPoint, ...],
    who: tuple[str, str],
    lifts: tuple[str, ...],
) -> AthleteSeason:
    """The season of what is known.

    Args:
        who: id and name.
        lifts: done by this athlete.
    """
    load = known.load_kg
    lifted = warmup_sets(known.sets, load) if load is not None else []
    points = _points(lifted, matches)
    days = [*(p.day for p in points), *(j.day for j in jumped)]
    first = min(days, default=today)
    earlier = [s for s in known.sets if s.day < today]
    one_rms = tuple(_one_rms(known, lifted))
    then, now = _lines(known, lifted, today)
    return AthleteSeason(
        *who,
        known.lift.name,
        lifts,
        first,
        today,
        load,
        points,
        usual_for_day(earlier, load, today, known.prior) if load is not None and earlier else None,
        one_rms,
        jumped,
        tuple(day for day in matches if first <= day <= today),
        tuple(p.day for p in points if p.equipment_changed),
        then,
        now,
        season_trend(known.sets, load, today, known.prior) if load is not None else None,
        tuple(_missing(points, one_rms, jumped, then, now)),
    )


def _points(lifted: Sequence[SetObservation], matches: Sequence[date]) -> tuple[WarmupPoint, ...]:
    changed = [False, *(a.equipment != b.equipment for a, b in pairwise(lifted))][: len(lifted)]
    return tuple(
        WarmupPoint(s.day, s.mean_velocity_m_s, match_day_label(s.day, matches), new, s.counts)
        for s, new in zip(lifted, changed, strict=True)
    )


def _inputs(known: Known, warmup: SetObservation) -> TodayInputs:
    """As the rack knew it when that warm-up set was done and its session was over."""
    now = (warmup.day, warmup.session)
    assert known.load_kg is not None
    return TodayInputs(
        known.lift,
        known.load_kg,
        [s for s in known.sets if (s.day, s.session) < now],
        warmup,
        known.prior,
        [s for s in known.sets if (s.day, s.session) == now and s.counts],
        known.own_velocity_at_1rm_m_s,
    )


def _one_rms(known: Known, lifted: Sequence[SetObservation]) -> list[OneRm]:
    found = []
    for warmup in (one for one in lifted if one.counts):
        now = assess(_inputs(known, warmup))
        if (
            now.today_1rm_kg is not None
            and now.today_1rm_low_kg is not None
            and now.today_1rm_high_kg is not None
        ):
            found.append(OneRm(warmup.day, now.today_1rm_kg, now.today_1rm_low_kg, now.today_1rm_high_kg))
    return found


def _lines(
    known: Known, lifted: Sequence[SetObservation], today: date
) -> tuple[LineThen | None, LineThen | None]:
    """Of the session nearest to twelve weeks ago, and of the latest; each from what was known by then."""
    counted = [s for s in lifted if s.counts]
    able = [s for s in counted if _enough(known, s)]
    if not able:
        return None, None
    then = min(able, key=lambda s: abs((today - THEN) - s.day))
    now = able[-1]
    return (None if then.day == now.day else _line(known, then)), _line(known, now)


def _enough(known: Known, warmup: SetObservation) -> bool:
    before = [s for s in known.sets if s.counts and s.day <= warmup.day]
    return len(sessions_of(before)) >= SESSIONS_FOR_A_LINE and len({round(s.load_kg) for s in before}) > 1


def _line(known: Known, warmup: SetObservation) -> LineThen:
    inputs = _inputs(known, warmup)
    sets = inputs.ramp or [warmup]
    return LineThen(warmup.day, athlete_line(inputs), tuple((s.load_kg, s.mean_velocity_m_s) for s in sets))


def _missing(
    points: Sequence[WarmupPoint],
    one_rms: Sequence[OneRm],
    jumped: Sequence[JumpPoint],
    then: LineThen | None,
    now: LineThen | None,
) -> list[str]:
    words = []
    if not points:
        words.append("No warm-up set of this lift is in the record of this season.")
    elif not one_rms:
        words.append(
            "No 1RM can be estimated: the line is not surely falling; sets at heavier loads are needed."
        )
    if not jumped:
        words.append("No jumps this season.")
    if points and now is None:
        words.append("Too little history for a load-velocity line: four sessions and two loads are needed.")
    elif now is not None and then is None:
        words.append("The season is too short for a line of then.")
    return words
