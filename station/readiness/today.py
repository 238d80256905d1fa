"""Today against the athlete's own history: verdict, chances, and today's one-repetition maximum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy import special

from station.readiness.history import warmup_sets
from station.readiness.line import LoadVelocityLine, fit_line, relative_prior
from station.readiness.results import TodayAssessed, UsualRange, Verdict
from station.readiness.usual import NO_SQUAD, SquadPrior, usual_range
from station.squad.lifts import Lift
from station.squad.sets import SetObservation

# A change is worth acting on when it is what 5 % of strength is worth at this load.
WORTHWHILE_STRENGTH = 0.05
# How the session spread splits into what the day does and what the set does (day 0.035, set 0.020 m/s).
DAY_SHARE = 0.035**2 / (0.035**2 + 0.020**2)
VELOCITY_AT_1RM_SD_M_S = 0.03
EXTRAPOLATED_BELOW = 0.60


@dataclass(frozen=True, slots=True)
class TodayInputs:
    """What is known when the warm-up set is done.

    Attributes:
        earlier: sets of this athlete and lift before today (and earlier sessions today), in order of time.
        warmup: today's warm-up set.
        prior: the squad's experience at warm-up loads.
    """

    lift: Lift
    warmup_load_kg: float
    earlier: Sequence[SetObservation]
    warmup: SetObservation
    prior: SquadPrior = NO_SQUAD


def usual_for_day(
    earlier: Sequence[SetObservation], warmup_load_kg: float, day: date, prior: SquadPrior = NO_SQUAD
) -> UsualRange:
    """The usual range at the warm-up load for a day, from the counted warm-up sets of earlier sessions."""
    points = [s for s in warmup_sets(earlier, warmup_load_kg) if s.counts]
    weeks = [(s.day - day).days / 7 for s in points]
    return usual_range([s.mean_velocity_m_s for s in points], weeks, 0.0, prior)


def assess(inputs: TodayInputs) -> TodayAssessed:
    """Place today's warm-up set in the athlete's own usual range.

    The 1RM estimate is the athlete's own line, moved by what today's set says about the day, carried to the
    lift's velocity at 1RM; its 80 % interval holds the uncertainty of line, day and that velocity.
    """
    usual = usual_for_day(inputs.earlier, inputs.warmup_load_kg, inputs.warmup.day, inputs.prior)
    line = athlete_line(inputs)
    change = inputs.warmup.mean_velocity_m_s - usual.expected_m_s
    worthwhile = abs(line.slope_m_s_per_kg) * inputs.warmup_load_kg * WORTHWHILE_STRENGTH
    day, day_sd = _state_of_the_day(change, usual)
    low, middle, high = _one_rm(line, day, day_sd, inputs.lift)
    return TodayAssessed(
        verdict=_verdict(inputs.warmup.mean_velocity_m_s, usual),
        mean_velocity_m_s=inputs.warmup.mean_velocity_m_s,
        usual=usual,
        smallest_worthwhile_m_s=worthwhile,
        probability_slower=float(special.ndtr((-worthwhile - day) / day_sd)),
        probability_faster=float(special.ndtr((day - worthwhile) / day_sd)),
        today_1rm_kg=middle,
        today_1rm_low_kg=low,
        today_1rm_high_kg=high,
        extrapolated=inputs.warmup_load_kg < EXTRAPOLATED_BELOW * middle,
    )


def athlete_line(inputs: TodayInputs) -> LoadVelocityLine:
    """The athlete's load-velocity line from all counted earlier sets and today's warm-up."""
    sets = [s for s in inputs.earlier if s.counts] + [inputs.warmup]
    v1 = inputs.lift.velocity_at_1rm_m_s
    # The heaviest sets bound the maximum from below; a fifth above the heaviest is a guess the data overrule.
    heaviest = max(s.load_kg for s in sets)
    speed = max(min(s.mean_velocity_m_s for s in sets if s.load_kg == heaviest) - v1, 0.0)
    guess = heaviest / max(1.0 - speed / 1.55, 0.3)
    prior = relative_prior(v1, guess)
    return fit_line([s.load_kg for s in sets], [s.mean_velocity_m_s for s in sets], prior)


def _state_of_the_day(change_m_s: float, usual: UsualRange) -> tuple[float, float]:
    """Today's true change of speed and its SD, m/s: the observation shrunk by what the set's noise explains."""
    noise = (1.0 - DAY_SHARE) * usual.sd_m_s**2
    signal = DAY_SHARE * usual.sd_m_s**2
    return change_m_s * signal / (signal + noise), float(np.sqrt(signal * noise / (signal + noise)))


def _one_rm(line: LoadVelocityLine, day: float, day_sd: float, lift: Lift) -> tuple[float, float, float]:
    """1RM today with its 80 % interval, kg, by the delta method on (intercept, slope, day, v at 1RM)."""
    v1 = lift.velocity_at_1rm_m_s
    slope = line.slope_m_s_per_kg
    middle = (v1 - line.intercept_m_s - day) / slope
    gradient = np.array([-1.0 / slope, -middle / slope])
    variance = (
        float(gradient @ line.covariance @ gradient) + (day_sd**2 + VELOCITY_AT_1RM_SD_M_S**2) / slope**2
    )
    half = float(special.ndtri(0.9)) * float(np.sqrt(variance))
    return middle - half, middle, middle + half


def _verdict(value: float, usual: UsualRange) -> Verdict:
    if not usual.enough_history:
        return Verdict.TOO_LITTLE_HISTORY
    if value < usual.low_m_s:
        return Verdict.SLOWER
    return Verdict.FASTER if value > usual.high_m_s else Verdict.AS_USUAL
