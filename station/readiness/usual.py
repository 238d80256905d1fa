"""The usual range: where an athlete's next warm-up speed is expected when nothing has changed.

A local linear trend with an unknown variance, in closed form (West & Harrison, Bayesian Forecasting and
Dynamic Models, 2nd ed. 1997, chapters 2 and 7; from memory): the athlete's level moves slowly over the weeks, each
session adds the day's state and the set's noise, and both level and spread start from the squad's and are learned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import special

from drivers.samples import FloatArray
from station.readiness.results import UsualRange

COVERAGE = 0.80
ENOUGH_SESSIONS = 3


@dataclass(frozen=True, slots=True)
class SquadPrior:
    """What is known of an athlete before the first session: the squad's experience.

    Attributes:
        level_m_s, level_sd_m_s: where levels lie across the squad at comparable loads.
        session_sd_m_s: typical spread of one athlete's sessions (day state and set noise together).
        session_sd_weight: how many sessions of the athlete's own that spread is worth.
        drift_per_week: variance of the level's weekly wander, as a share of the session variance.
        trend_sd_m_s: how fast levels of a squad rise or fall, m/s a week (half a percent of strength).
    """

    level_m_s: float
    level_sd_m_s: float
    session_sd_m_s: float = 0.040
    session_sd_weight: float = 8.0
    drift_per_week: float = 0.005
    trend_sd_m_s: float = 0.004


# Without a squad to learn from: wide levels; the spread is the middle of the published 0.03 to 0.08 m/s
# day-to-day SEM (Front Physiol 2020;11:561682), at its lower end as fixed loads and one device keep it.
NO_SQUAD = SquadPrior(level_m_s=0.8, level_sd_m_s=0.3)

SMALLEST_SESSION_SD_M_S = 0.01
SMALLEST_TREND_SD_M_S = 0.0005

# An observation further out than this many predicted SDs is believed less and less, so that one wild
# value neither moves the level nor widens the range for months (Huber's idea, with his usual bound of about 2).
DOUBT_BEYOND_SD = 2.0


@dataclass(slots=True)
class _Belief:
    """What is believed so far of one athlete.

    Attributes:
        state: level (m/s) and its trend (m/s a week), shape (2,).
        spread: their covariance, in units of the session variance, shape (2, 2).
        variance, weight: the session variance (m2/s2) and how many sessions it rests on.
    """

    state: FloatArray
    spread: FloatArray
    variance: float
    weight: float

    def wait(self, weeks: float, drift_per_week: float) -> None:
        """Time passes: the trend goes on, and the level wanders."""
        step = np.array([[1.0, max(weeks, 0.0)], [0.0, 1.0]])
        self.state = step @ self.state
        self.spread = step @ self.spread @ step.T
        self.spread[0, 0] += drift_per_week * max(weeks, 0.0)

    def see(self, value: float) -> None:
        """One session's value."""
        surprise = (value - self.state[0]) / np.sqrt(self.variance * (self.spread[0, 0] + 1.0))
        doubt = max(abs(surprise) / DOUBT_BEYOND_SD, 1.0)
        gain = self.spread[:, 0] / (self.spread[0, 0] + doubt**2)
        kept = min(surprise**2, DOUBT_BEYOND_SD**2)
        self.state = self.state + gain * (value - self.state[0])
        self.spread = self.spread - np.outer(gain, self.spread[0])
        self.variance *= (self.weight + kept) / (self.weight + 1.0)
        self.weight += 1.0

    def sd_m_s(self) -> float:
        """Predictive SD of the next session's value."""
        return float(np.sqrt(self.variance * (self.spread[0, 0] + 1.0)))


def usual_range(
    values_m_s: Sequence[float] | FloatArray,
    weeks: Sequence[float] | FloatArray,
    today_week: float,
    prior: SquadPrior = NO_SQUAD,
    extra_sd_m_s: float = 0.0,
) -> UsualRange:
    """The 80 % predictive interval for today, given all earlier sessions.

    Args:
        values_m_s: one value a session, oldest first, shape (n,), m/s. May be empty.
        weeks: their times, shape (n,), weeks on any origin.
        today_week: today on the same origin.
        prior: the squad's experience.
        extra_sd_m_s: added in quadrature, e.g. after a change of sensor or bar.
    """
    start_sd = np.array([prior.level_sd_m_s, prior.trend_sd_m_s]) / prior.session_sd_m_s
    belief = _Belief(
        np.array([prior.level_m_s, 0.0]),
        np.diag(start_sd**2),
        prior.session_sd_m_s**2,
        prior.session_sd_weight,
    )
    times = [*weeks, today_week]
    for value, (now, later) in zip(values_m_s, pairwise(times), strict=True):
        belief.see(float(value))
        belief.wait(later - now, prior.drift_per_week)
    level = float(belief.state[0])
    sd = float(np.hypot(belief.sd_m_s(), extra_sd_m_s))
    half = float(special.stdtrit(belief.weight, 0.5 + COVERAGE / 2)) * sd
    sessions = len(values_m_s)
    return UsualRange(level - half, level, level + half, sd, sessions, sessions >= ENOUGH_SESSIONS)


@dataclass(frozen=True, eq=False, slots=True)
class WarmupSeries:
    """One athlete's warm-up speeds: weeks on any origin and values in m/s, both shape (n,)."""

    weeks: FloatArray
    values_m_s: FloatArray


def squad_prior(squad: Sequence[WarmupSeries]) -> SquadPrior:
    """Learn the squad's levels, spread and trends from its athletes' own values at their warm-up loads.

    Spread and trends come from straight lines through each athlete's own sessions: the pooled residual variance,
    and the variance of the slopes beyond what that residual explains (method of moments).

    Args:
        squad: one series an athlete, any lengths.

    Returns:
        A prior; `NO_SQUAD` when fewer than three athletes have values.
    """
    levels = np.array([one.values_m_s.mean() for one in squad if len(one.values_m_s)])
    if len(levels) < ENOUGH_SESSIONS:
        return NO_SQUAD
    level, level_sd = float(levels.mean()), float(levels.std(ddof=1))
    lines = [_line(one) for one in squad if len(np.unique(one.weeks)) >= ENOUGH_SESSIONS]
    if not lines:
        return SquadPrior(level, level_sd)
    slopes, leverage, squares, freedom = (np.array(column) for column in zip(*lines, strict=True))
    session_sd = max(float(np.sqrt(squares.sum() / freedom.sum())), SMALLEST_SESSION_SD_M_S)
    trend_variance = float(np.average(slopes**2 - session_sd**2 / leverage, weights=leverage))
    return SquadPrior(
        level,
        max(level_sd, session_sd / 2),
        session_sd,
        trend_sd_m_s=float(np.sqrt(max(trend_variance, SMALLEST_TREND_SD_M_S**2))),
    )


def _line(one: WarmupSeries) -> tuple[float, float, float, int]:
    """Slope, its leverage (sum of squared weeks), residual sum of squares and degrees of freedom."""
    weeks = one.weeks - one.weeks.mean()
    values = one.values_m_s - one.values_m_s.mean()
    leverage = float(weeks @ weeks)
    slope = float(weeks @ values) / leverage
    residual = values - slope * weeks
    return slope, leverage, float(residual @ residual), len(weeks) - 2
