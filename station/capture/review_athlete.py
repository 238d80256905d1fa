"""One athlete over the season, for the desk: warm-up speed, estimated 1RM, jumps, load-velocity line then and now.

Each session's 1RM is estimated from that session and those before it, as the rack would have on that day, with the
squad's experience as it is today.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

from sqlalchemy import Connection

from station.capture.review_log import named, people
from station.readiness.history import sessions_of, usual_warmup_load, warmup_sets, without_other_depths
from station.readiness.line import LoadVelocityLine
from station.readiness.prior import SquadPrior, squad_prior
from station.readiness.results import UsualRange, WarmupPoint
from station.readiness.season import SeasonTrend, season_trend
from station.readiness.today import TodayInputs, assess, athlete_line
from station.readiness.usual import usual_for_day, warmup_series
from station.squad.calendar import after_match, like_day, match_day_label
from station.squad.errors import UnknownLift
from station.squad.lifts import LIFTS, Lift, lift_named
from station.squad.sets import SetObservation
from station.store import effective, jumps, roster
from station.store.rack_things import targets
from station.store.record import Record
from station.store.squad_reading import all_observations

SEASON = timedelta(weeks=46)
PRIOR_FROM = timedelta(days=240)
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
class _Known:
    """What the record has of one athlete and lift: sets in order of time, each with what kind of day it was."""

    lift: Lift
    load_kg: float | None
    sets: tuple[SetObservation, ...]
    prior: SquadPrior
    own_velocity_at_1rm_m_s: float | None


class ReviewAthletes:
    """Reads one record; in one thread of its desk.

    Args:
        today: the local day.
    """

    def __init__(self, record: Record, today: Callable[[], date]) -> None:
        self._record, self._today = record, today

    def season(self, athlete_id: str, lift: str | None = None) -> AthleteSeason:
        """The season up to today.

        Args:
            lift: None: the one most done.
        """
        today = self._today()
        own_1rm = targets(self._record)
        with self._record.database.read() as connection:
            matches = roster.match_dates(connection)
            played = roster.played_days(connection).get(athlete_id)
            done = _lifts_done(connection, athlete_id, today - SEASON)
            name = lift or next(iter(done), next(iter(LIFTS)))
            target = own_1rm.get((athlete_id, name))
            known = _known(
                connection,
                athlete_id,
                name,
                today,
                target.velocity_at_1rm_m_s if target is not None else None,
            )
            jumped = _jumps(connection, athlete_id, today, matches)
            athlete = people(connection, today).get(athlete_id)
        kinds = {day for day, was in played.items() if was} if played is not None else None
        seen = tuple(replace(one, like_day=like_day(one.day, matches, kinds)) for one in known.sets)
        return _season(
            replace(known, sets=seen),
            today,
            matches,
            jumped,
            (athlete_id, "nobody in the squad" if athlete is None else named(athlete)),
            tuple(done) if name in done else (name, *done),
        )


def _lifts_done(connection: Connection, athlete_id: str, since: date) -> list[str]:
    counts: dict[str, int] = {}
    for row in effective.sets_of(connection, athlete_id):
        if row.day >= since:
            counts[row.lift] = counts.get(row.lift, 0) + 1
    return sorted(counts, key=lambda lift: (-counts[lift], lift))


def _known(
    connection: Connection, athlete_id: str, name: str, today: date, own_1rm_m_s: float | None
) -> _Known:
    try:
        lift = lift_named(name)
    except UnknownLift:
        lift = replace(next(iter(LIFTS.values())), name=name)
    own = [
        one
        for one in without_other_depths(effective.observations(connection, athlete_id, name))
        if today - SEASON <= one.day <= today
    ]
    plans = {(p["athlete_id"], p["lift"]): p["warmup_load_kg"] for p in roster.plans_on(connection, today)}
    load = plans.get((athlete_id, name)) or usual_warmup_load(own, today + timedelta(days=1))
    return _Known(lift, load, tuple(own), _prior(connection, name, today, plans), own_1rm_m_s)


def _prior(connection: Connection, lift: str, today: date, plans: dict[tuple[str, str], float]) -> SquadPrior:
    """The squad's experience with a lift, from everybody's own warm-up loads."""
    squad: dict[str, list[SetObservation]] = {}
    for one in all_observations(connection, today - PRIOR_FROM):
        if one.lift == lift and one.counts and one.day < today:
            squad.setdefault(one.athlete_id, []).append(one)
    series = []
    for athlete_id, own in sorted(squad.items()):
        load = plans.get((athlete_id, lift)) or usual_warmup_load(own, today)
        if load is not None:
            series.append(warmup_series(own, load, today))
    return squad_prior(series)


def _jumps(
    connection: Connection, athlete_id: str, today: date, matches: Sequence[date]
) -> tuple[JumpPoint, ...]:
    played = roster.played_days(connection)
    found = jumps.jump_days_since(
        connection, today - SEASON, lambda key, day: after_match(day, matches, played.get(key))
    )
    return tuple(
        JumpPoint(one.day, one.mean_m, one.after.in_words())
        for one in found.get(athlete_id, ())
        if one.day <= today
    )


def _season(
    known: _Known,
    today: date,
    matches: Sequence[date],
    jumped: tuple[JumpPoint, ...],
    who: tuple[str, str],
    lifts: tuple[str, ...],
) -> AthleteSeason:
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


def _inputs(known: _Known, warmup: SetObservation) -> TodayInputs:
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


def _one_rms(known: _Known, lifted: Sequence[SetObservation]) -> list[OneRm]:
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
    known: _Known, lifted: Sequence[SetObservation], today: date
) -> tuple[LineThen | None, LineThen | None]:
    """Of the session nearest to twelve weeks ago, and of the latest; each from what was known by then."""
    counted = [s for s in lifted if s.counts]
    able = [s for s in counted if _enough(known, s)]
    if not able:
        return None, None
    then = min(able, key=lambda s: abs((today - THEN) - s.day))
    now = able[-1]
    return (None if then.day == now.day else _line(known, then)), _line(known, now)


def _enough(known: _Known, warmup: SetObservation) -> bool:
    before = [s for s in known.sets if s.counts and s.day <= warmup.day]
    return len(sessions_of(before)) >= SESSIONS_FOR_A_LINE and len({round(s.load_kg) for s in before}) > 1


def _line(known: _Known, warmup: SetObservation) -> LineThen:
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
