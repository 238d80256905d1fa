"""A whole squad on one day: every athlete and lift seen, against their own history. Pure; the command line's core."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from station.readiness.history import usual_warmup_load, warmup_sets, without_other_depths
from station.readiness.plates import KG_RACK, PlateSet
from station.readiness.prior import SquadPrior, squad_prior
from station.readiness.results import Suggestion, TodayAssessed, UsualRange
from station.readiness.sensitivity import WarmupShows, warmup_shows
from station.readiness.suggestion import suggest
from station.readiness.today import TodayInputs, assess
from station.readiness.usual import counted_warmups, usual_for_day, warmup_series
from station.squad.lifts import Lift, lift_named
from station.squad.sets import SetObservation

Key = tuple[str, str]  # athlete_id, lift


@dataclass(frozen=True, slots=True)
class DayPlan:
    """What was planned for one athlete and lift, kg."""

    planned_load_kg: float | None
    ceiling_kg: float | None = None
    warmup_load_kg: float | None = None
    velocity_at_1rm_m_s: float | None = None


@dataclass(frozen=True, slots=True)
class DayLine:
    """One athlete and lift today.

    Attributes:
        warmup: today's counted warm-up set, or None with the reason in `why_not`.
        usual: at the warm-up load.
        shows: what this warm-up load can show.
    """

    athlete_id: str
    lift: str
    warmup_load_kg: float
    warmup: SetObservation | None
    usual: UsualRange
    assessed: TodayAssessed | None
    plan: DayPlan | None
    suggestion: Suggestion
    shows: WarmupShows | None
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class _Case:
    """One athlete and lift seen today: the load, the past and the last session of today."""

    key: Key
    plan: DayPlan | None
    load_kg: float
    earlier: list[SetObservation]
    session: list[SetObservation]


def assess_day(
    sets: Sequence[SetObservation],
    day: date,
    plans: Mapping[Key, DayPlan] | None = None,
    plates: PlateSet = KG_RACK,
    also: dict[str, Lift] | None = None,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> list[DayLine]:
    """Every athlete and lift with a set on the day, in the order first seen that day.

    Args:
        sets: in order of time, any athletes and lifts; sets after the day are not looked at.
        day: today. Of two sessions the last one is judged, the first is history.
        plans: by athlete and lift. Without a warm-up load in it, the one with most earlier days is the warm-up load.
        plates: what the rack can load.
        also: a club's own lifts.
        progress: told how many of how many are done.
    """
    grouped: dict[Key, list[SetObservation]] = defaultdict(list)
    for one in sets:
        if one.day <= day:
            grouped[one.athlete_id, one.lift].append(one)
    plans = plans or {}
    loads = {
        key: load
        for key, own in grouped.items()
        if (load := _warmup_load(own, day, plans.get(key))) is not None
    }
    seen = dict.fromkeys((s.athlete_id, s.lift) for s in sets if s.day == day)
    priors = {lift: _prior(grouped, loads, lift, day) for lift in {lift for _, lift in seen}}
    lines = []
    for done, key in enumerate(seen):
        progress(done, len(seen))
        case = _case(key, grouped[key], loads[key], day, plans.get(key))
        lines.append(_line(case, day, priors[key[1]], plates, lift_named(key[1], also)))
    progress(len(seen), len(seen))
    return lines


def _warmup_load(own: Sequence[SetObservation], day: date, plan: DayPlan | None) -> float | None:
    if plan is not None and plan.warmup_load_kg is not None:
        return plan.warmup_load_kg
    # On a first day the first set of the last session stands for the warm-up: there is nothing to compare it with.
    today = [s for s in own if s.day == day]
    first = next((s.load_kg for s in today if s.session == today[-1].session), None)
    return usual_warmup_load(own, day) or first


def _prior(
    grouped: Mapping[Key, Sequence[SetObservation]], loads: Mapping[Key, float], lift: str, day: date
) -> SquadPrior:
    """What the squad teaches about this lift, from the days before."""
    series = [
        warmup_series(own, loads[key], day) for key, own in grouped.items() if key[1] == lift and key in loads
    ]
    return squad_prior(series)


def _case(key: Key, own: Sequence[SetObservation], load_kg: float, day: date, plan: DayPlan | None) -> _Case:
    judged = without_other_depths(own)
    last = judged[-1].session
    earlier = [s for s in judged if s.day < day or s.session != last]
    session = [s for s in judged if s.day == day and s.session == last]
    return _Case(key, plan, load_kg, earlier, session)


def _line(case: _Case, day: date, prior: SquadPrior, plates: PlateSet, lift: Lift) -> DayLine:
    athlete_id, _ = case.key
    load, plan = case.load_kg, case.plan
    warmup, why_not = _warmup(case.session, load)
    if warmup is None:
        usual = usual_for_day(case.earlier, load, day, prior)
        assessed = None
    else:
        own_end = plan.velocity_at_1rm_m_s if plan else None
        assessed = assess(TodayInputs(lift, load, case.earlier, warmup, prior, case.session, own_end))
        usual = assessed.usual
    shows = (
        warmup_shows(case.earlier, load, day, prior, usual) if counted_warmups(case.earlier, load) else None
    )
    said = _suggestion(assessed, load, plan, plates)
    return DayLine(athlete_id, lift.name, load, warmup, usual, assessed, plan, said, shows, why_not)


def _warmup(session: Sequence[SetObservation], load_kg: float) -> tuple[SetObservation | None, str]:
    """Today's warm-up set, or why there is none."""
    found = warmup_sets(session, load_kg)
    if not found:
        return None, f"no warm-up set at {load_kg:g} kg before a heavier one"
    if not found[0].counts:
        return None, "different depth than usual" if found[0].displacement_m else "not full effort"
    return found[0], ""


def _suggestion(
    assessed: TodayAssessed | None, load_kg: float, plan: DayPlan | None, plates: PlateSet
) -> Suggestion:
    if plan is None:
        return suggest(None, load_kg, None, None, plates)
    return suggest(assessed, load_kg, plan.planned_load_kg, plan.ceiling_kg, plates)
