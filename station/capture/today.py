"""One athlete today: the warm-up history, the usual range, the verdict and the suggestion, out of the record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from station.capture.rack_view import RackPlan
from station.readiness.history import warmup_sets, without_other_depths
from station.readiness.plates import PlateSet
from station.readiness.results import Suggestion, TodayAssessed, UsualRange, WarmupPoint
from station.readiness.suggestion import suggest
from station.readiness.today import TodayInputs, assess
from station.readiness.usual import (
    NO_SQUAD,
    SquadPrior,
    at_any_load,
    squad_prior,
    usual_for_day,
    warmup_series,
)
from station.squad.athletes import Athlete, TrainingStatus
from station.squad.calendar import like_day, match_day_label
from station.squad.lifts import Lift
from station.squad.sets import SetObservation, same_load, usual_displacement_m

LATEST_POINTS = 14


@dataclass(frozen=True, slots=True)
class AthleteToday:
    """What the statistics say of one athlete and lift at this moment."""

    warmup_load_kg: float | None
    usual: UsualRange | None
    history: tuple[WarmupPoint, ...]
    today: WarmupPoint | None
    assessed: TodayAssessed | None
    suggestion: Suggestion | None
    usual_range_of_motion_m: float | None


NOBODY = AthleteToday(None, None, (), None, None, None, None)


@dataclass(frozen=True, slots=True)
class Setting:
    """What the day and the rack bring: the session, the matches, the plates."""

    day: date
    session: int
    matches: tuple[date, ...]
    plates: PlateSet


def athlete_today(
    athlete: Athlete,
    plan: RackPlan | None,
    lift: Lift,
    sets: Sequence[SetObservation],
    setting: Setting,
    prior: SquadPrior = NO_SQUAD,
) -> AthleteToday:
    """Put together what the screen shows beside the number.

    Args:
        sets: all sets of this athlete and lift, in order of time, today's included.
        prior: the squad's experience at this lift's warm-up loads.
    """
    if plan is None or plan.lift != lift.name:
        suggestion = suggest(None, 0.0, None, None, setting.plates)
        return AthleteToday(None, None, (), None, None, suggestion, usual_displacement_m(sets))
    now = (setting.day, setting.session)
    sets = [replace(s, like_day=like_day(s.day, setting.matches)) for s in without_other_depths(sets)]
    earlier = [s for s in sets if (s.day, s.session) < now]
    this_session = [s for s in sets if (s.day, s.session) == now]
    equipment = this_session[-1].equipment if this_session else ""
    usual = usual_for_day(
        earlier,
        plan.warmup_load_kg,
        setting.day,
        prior,
        like_day=like_day(setting.day, setting.matches),
        equipment=equipment,
    )
    done = [s for s in warmup_sets(this_session, plan.warmup_load_kg) if s.counts]
    assessed = (
        assess(TodayInputs(lift, plan.warmup_load_kg, earlier, done[0], prior, this_session))
        if done
        else None
    )
    points = _points([*warmup_sets(earlier, plan.warmup_load_kg), *done], setting)
    return AthleteToday(
        plan.warmup_load_kg,
        usual,
        points[: len(points) - len(done)][-LATEST_POINTS:],
        points[-1] if done else None,
        assessed,
        suggest(
            assessed,
            plan.warmup_load_kg,
            plan.planned_load_kg,
            plan.ceiling_kg,
            setting.plates,
            withheld=athlete.status is not TrainingStatus.FULL,
        )
        if done
        else None,
        usual_displacement_m(earlier),
    )


def usual_at_load(
    lift: Lift, sets: Sequence[SetObservation], load_kg: float, setting: Setting, prior: SquadPrior
) -> UsualRange | None:
    """The usual range at any load: own sets at this load, with the athlete's own line for what they don't tell."""
    earlier = [s for s in sets if (s.day, s.session) < (setting.day, setting.session)]
    counted = [s for s in earlier if s.counts]
    if not counted:
        return None
    return usual_for_day(earlier, load_kg, setting.day, at_any_load(prior))


def learn_prior(histories: Sequence[tuple[RackPlan, Sequence[SetObservation]]], before: date) -> SquadPrior:
    """The squad's level and spread at the warm-up loads of one lift, from days before `before`."""
    return squad_prior(
        [
            warmup_series([s for s in sets if s.counts], plan.warmup_load_kg, before)
            for plan, sets in histories
        ]
    )


def _points(sets: Sequence[SetObservation], setting: Setting) -> tuple[WarmupPoint, ...]:
    equipment = [s.equipment for s in sets]
    changed = [False, *(a != b for a, b in pairwise(equipment))]
    return tuple(
        WarmupPoint(s.day, s.mean_velocity_m_s, match_day_label(s.day, setting.matches), new, s.counts)
        for s, new in zip(sets, changed, strict=True)
    )


def next_load_kg(plan: RackPlan, sets_today: Sequence[SetObservation], decided_kg: float | None) -> float:
    """The load this athlete lifts next: the warm-up first, then what was decided, else the plan."""
    if not any(same_load(s.load_kg, plan.warmup_load_kg) for s in sets_today):
        return plan.warmup_load_kg
    return decided_kg or plan.planned_load_kg or plan.warmup_load_kg
