"""One athlete today: the warm-up history, the usual range, the verdict and the suggestion, out of the record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from station.capture.coach_notes import coach_notes
from station.capture.rack_view import CoachNotes, RackPlan, Unit
from station.readiness.history import usual_depth_m, warmup_sets, without_other_depths
from station.readiness.plates import PlateSet, load_within
from station.readiness.results import Suggestion, TodayAssessed, UsualRange, WarmupPoint
from station.readiness.suggestion import Target, suggest
from station.readiness.suggestion_rules import DEFAULT_RULES, SuggestionRules
from station.readiness.today import TodayInputs, assess, load_for_velocity_kg
from station.readiness.usual import (
    NO_SQUAD,
    SquadPrior,
    at_any_load,
    squad_prior,
    usual_for_day,
    warmup_series,
)
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
    coach: CoachNotes | None = None
    usual_depth_m: float | None = None
    last_used_kg: float | None = None


NOBODY = AthleteToday(None, None, (), None, None, None, None)


@dataclass(frozen=True, slots=True)
class Setting:
    """What the day and the rack bring.

    Attributes:
        played: the matches this athlete played in; None when nobody wrote it down.
        equipment: sensor and bar in use now; "" when unknown.
        rules: how far a suggestion may go from the plan.
    """

    day: date
    session: int
    matches: tuple[date, ...]
    plates: PlateSet
    unit: Unit = "kg"
    played: frozenset[date] | None = None
    equipment: str = ""
    rules: SuggestionRules = DEFAULT_RULES

    def like_day(self, day: date) -> str:
        """What kind of day it was for this athlete."""
        return like_day(day, self.matches, self.played)


def athlete_today(
    plan: RackPlan | None,
    lift: Lift,
    sets: Sequence[SetObservation],
    setting: Setting,
    prior: SquadPrior = NO_SQUAD,
) -> AthleteToday:
    """Put together what the screen shows beside the number.

    Args:
        plan: as far as it may be followed today; None: the screen says "ask a coach", whatever the reason.
        sets: all sets of this athlete and lift, in order of time, today's included.
        prior: the squad's experience at this lift's warm-up loads.
    """
    last_kg = sets[-1].load_kg if sets else None
    if plan is None:
        suggestion = suggest(None, 0.0, None, None, setting.plates)
        range_m, depth_m = usual_displacement_m(sets), usual_depth_m(sets)
        return AthleteToday(None, None, (), None, None, suggestion, range_m, None, depth_m, last_kg)
    now = (setting.day, setting.session)
    load, like = plan.warmup_load_kg, setting.like_day(setting.day)
    depth_m = usual_depth_m(sets)
    sets = [replace(s, like_day=setting.like_day(s.day)) for s in without_other_depths(sets)]
    earlier = [s for s in sets if (s.day, s.session) < now]
    this_session = [s for s in sets if (s.day, s.session) == now]
    equipment = this_session[-1].equipment if this_session else setting.equipment
    usual = usual_for_day(earlier, load, setting.day, prior, like_day=like, equipment=equipment)
    lifted = warmup_sets(this_session, load)
    done = [s for s in lifted if s.counts]
    inputs = _inputs(plan, lift, earlier, done[0], prior, this_session) if done else None
    assessed = assess(inputs) if inputs else None
    points = _points([*warmup_sets(earlier, load), *lifted], setting)
    return AthleteToday(
        load,
        usual,
        points[: len(points) - len(lifted)][-LATEST_POINTS:],
        points[-1] if lifted else None,
        assessed,
        _suggestion(plan, inputs, assessed, setting) if inputs else None,
        usual_displacement_m(earlier),
        coach_notes(plan, lift, earlier, setting.day, prior, like),
        depth_m,
        last_kg,
    )


def _inputs(
    plan: RackPlan,
    lift: Lift,
    earlier: Sequence[SetObservation],
    warmup: SetObservation,
    prior: SquadPrior,
    ramp: Sequence[SetObservation],
) -> TodayInputs:
    own = plan.own_velocity_at_1rm_m_s
    return TodayInputs(lift, plan.warmup_load_kg, earlier, warmup, prior, ramp, own)


def _suggestion(
    plan: RackPlan, inputs: TodayInputs, assessed: TodayAssessed | None, setting: Setting
) -> Suggestion:
    """The plan scaled to today, or, where the plan asks for a velocity, the load that meets it."""
    target = None
    if plan.target_band_m_s is not None:
        wanted = sum(plan.target_band_m_s) / 2
        load = load_for_velocity_kg(inputs, wanted)
        target = Target(wanted, load) if load is not None else None
    return suggest(
        assessed,
        plan.warmup_load_kg,
        plan.planned_load_kg,
        plan.ceiling_kg,
        setting.plates,
        setting.rules,
        target=target,
        unit=setting.unit,
    )


def usual_at_load(
    sets: Sequence[SetObservation], load_kg: float, setting: Setting, prior: SquadPrior
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
    changed = [False, *(a != b for a, b in pairwise(equipment))][: len(sets)]
    return tuple(
        WarmupPoint(s.day, s.mean_velocity_m_s, match_day_label(s.day, setting.matches), new, s.counts)
        for s, new in zip(sets, changed, strict=True)
    )


def next_load_kg(
    plan: RackPlan, lifted_kg: Sequence[float], decided_kg: float | None, plates: PlateSet
) -> float:
    """The load this athlete lifts next: the warm-up first, then what was decided, else the plan under its ceiling."""
    if not any(same_load(load_kg, plan.warmup_load_kg) for load_kg in lifted_kg):
        return plan.warmup_load_kg
    if decided_kg is not None:
        return decided_kg
    planned = plan.planned_load_kg or plan.warmup_load_kg
    if plan.ceiling_kg is None or planned <= plan.ceiling_kg:
        return planned
    below = load_within(plates, plan.ceiling_kg)
    return below.total_kg if below is not None else plan.ceiling_kg
