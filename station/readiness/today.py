"""Today against the athlete's own history: verdict, chances, and today's one-repetition maximum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from station.readiness.line import LoadVelocityLine
from station.readiness.model import AthleteModel, Posterior
from station.readiness.prior import NO_SQUAD, SquadPrior
from station.readiness.results import TodayAssessed, UsualRange, Verdict
from station.readiness.usual import athlete_model, counted_warmups, last_session, range_of
from station.readiness.usual import usual_for_day as usual_for_day
from station.squad.lifts import Lift
from station.squad.sets import SetObservation

# A change is worth acting on when it is what 5 % of strength is worth at this load.
WORTHWHILE_STRENGTH = 0.05
# An athlete's own velocity at 1RM, from heavy singles of the past, is known to about this (a third of its day-to-day
# SEM of 0.03 to 0.04 m/s: a mean of about ten; an assumption).
OWN_VELOCITY_AT_1RM_SD_M_S = 0.01
EXTRAPOLATED_BELOW = 0.60


@dataclass(frozen=True, slots=True)
class TodayInputs:
    """What is known when the warm-up set is done.

    Attributes:
        earlier: sets of this athlete and lift before today (and earlier sessions today), in order of time.
        warmup: today's warm-up set.
        prior: the squad's experience at warm-up loads.
        ramp: all of this session's sets so far, the warm-up set among them; without them, that set alone. Heavier
            fresh ones sharpen today's maximum, not the verdict.
        own_velocity_at_1rm_m_s: where the athlete's own is known; else the published one of the lift.
    """

    lift: Lift
    warmup_load_kg: float
    earlier: Sequence[SetObservation]
    warmup: SetObservation
    prior: SquadPrior = NO_SQUAD
    ramp: Sequence[SetObservation] = ()
    own_velocity_at_1rm_m_s: float | None = None


def assess(inputs: TodayInputs) -> TodayAssessed:
    """Place today's warm-up set in the athlete's own usual range.

    Today's maximum is the athlete's own line with the state of today, carried to the velocity at 1RM; its 80 %
    interval holds the uncertainty of line, day and that velocity.
    """
    before = _model(inputs, [])
    usual = range_of(before, len(counted_warmups(inputs.earlier, inputs.warmup_load_kg)))
    spoken = _today(_model(inputs, [inputs.warmup]))
    change, change_sd = spoken.of([0.0, 0.0, 1.0])
    worthwhile = WORTHWHILE_STRENGTH * max(spoken.of([0.0, 1.0, 0.0])[0], 0.0)
    ramp = inputs.ramp or [inputs.warmup]
    carried = _today(_model(inputs, ramp)) if len(ramp) > 1 else spoken
    maximum = one_rm(carried, inputs)
    heaviest = max(s.load_kg for s in ramp)
    return TodayAssessed(
        verdict=_verdict(inputs.warmup.mean_velocity_m_s, usual),
        mean_velocity_m_s=inputs.warmup.mean_velocity_m_s,
        usual=usual,
        smallest_worthwhile_m_s=worthwhile,
        probability_slower=float(special.stdtr(spoken.freedom, (-worthwhile - change) / change_sd)),
        probability_faster=float(special.stdtr(spoken.freedom, (change - worthwhile) / change_sd)),
        today_1rm_kg=maximum[1] if maximum else None,
        today_1rm_low_kg=maximum[0] if maximum else None,
        today_1rm_high_kg=maximum[2] if maximum else None,
        extrapolated=maximum is not None and heaviest < EXTRAPOLATED_BELOW * maximum[1],
        change_m_s=change,
    )


def athlete_line(inputs: TodayInputs) -> LoadVelocityLine:
    """The athlete's load-velocity line on an ordinary day, from all counted earlier sets and today's warm-up."""
    level_fall = _today(_model(inputs, [inputs.warmup]))
    to_line = np.array([[1.0, 1.0, 0.0], [0.0, -1.0 / inputs.warmup_load_kg, 0.0]])
    intercept, slope = to_line @ level_fall.mean
    covariance = to_line @ level_fall.covariance @ to_line.T
    return LoadVelocityLine(float(intercept), float(slope), covariance, inputs.prior.session_sd_m_s)


def one_rm(today: Posterior, inputs: TodayInputs) -> tuple[float, float, float] | None:
    """1RM today with its 80 % interval, kg: low, middle, high. None where the line is not surely falling.

    The load where level + state - fall * (load / warm-up load - 1) meets the velocity at 1RM. A ratio of two normal
    quantities: its interval is Fieller's (1954, from memory), the loads at which the difference is within 1.28 SDs
    of nothing.
    """
    at_1rm, at_1rm_sd = _velocity_at_1rm(inputs)
    up, fall = np.array([1.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0])
    (above, above_sd), (drop, drop_sd) = today.of(up), today.of(fall)
    above -= at_1rm
    z2 = today.quantile(0.9) ** 2
    both = float(up @ today.covariance @ fall)
    a = drop**2 - z2 * drop_sd**2
    b = above * drop - z2 * both
    c = above**2 - z2 * (above_sd**2 + at_1rm_sd**2)
    root = b**2 - a * c
    if drop <= 0.0 or a <= 0.0 or root < 0.0:
        return None
    shares = (b - np.sqrt(root)) / a, above / drop, (b + np.sqrt(root)) / a
    low, middle, high = (inputs.warmup_load_kg * (1.0 + float(share)) for share in shares)
    return (max(low, 0.0), middle, high) if middle > 0.0 else None


def load_for_velocity_kg(inputs: TodayInputs, target_m_s: float) -> float | None:
    """The load that a fresh set would move at the target velocity today, kg; None where the line does not fall."""
    today = _today(_model(inputs, inputs.ramp or [inputs.warmup]))
    level, fall, state = (float(value) for value in today.mean)
    if fall <= 0.0:
        return None
    return max(inputs.warmup_load_kg * (1.0 + (level + state - target_m_s) / fall), 0.0)


def _velocity_at_1rm(inputs: TodayInputs) -> tuple[float, float]:
    """The velocity at 1RM and its SD, m/s."""
    if inputs.own_velocity_at_1rm_m_s is not None:
        return inputs.own_velocity_at_1rm_m_s, OWN_VELOCITY_AT_1RM_SD_M_S
    return inputs.lift.velocity_at_1rm_m_s, inputs.lift.velocity_at_1rm_sd_m_s


def _model(inputs: TodayInputs, today: Sequence[SetObservation]) -> AthleteModel:
    one = inputs.warmup
    kinds = {"like_day": one.like_day, "equipment": one.equipment}
    return athlete_model(inputs.earlier, today, inputs.warmup_load_kg, one.day, inputs.prior, **kinds)


def _today(model: AthleteModel) -> Posterior:
    return model.today(last_session(model) if len(model.sets) else None)


def _verdict(value: float, usual: UsualRange) -> Verdict:
    if not usual.enough_history:
        return Verdict.TOO_LITTLE_HISTORY
    if value < usual.low_m_s:
        return Verdict.SLOWER
    return Verdict.FASTER if value > usual.high_m_s else Verdict.AS_USUAL
