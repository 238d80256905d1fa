"""The usual range: where an athlete's next warm-up speed is expected when nothing has changed.

A local-level model with an unknown variance, in closed form (West & Harrison, Bayesian Forecasting and
Dynamic Models, 2nd ed. 1997, section 2.5; from memory): the athlete's level wanders slowly over the weeks, each
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
    """

    level_m_s: float
    level_sd_m_s: float
    session_sd_m_s: float = 0.040
    session_sd_weight: float = 8.0
    drift_per_week: float = 0.02


# Without a squad to learn from: wide levels; the spread is the middle of the published 0.03 to 0.08 m/s
# day-to-day SEM (Front Physiol 2020;11:561682), at its lower end as fixed loads and one device keep it.
NO_SQUAD = SquadPrior(level_m_s=0.8, level_sd_m_s=0.3)

# An observation further out than this many predicted SDs is believed less and less, so that one wild
# value neither moves the level nor widens the range for months (Huber's idea, with his usual bound of about 2).
DOUBT_BEYOND_SD = 2.0


@dataclass(slots=True)
class _Belief:
    """Level and spread so far: mean (m/s), variance in units of the session variance, variance, its weight."""

    level: float
    spread: float
    variance: float
    weight: float

    def wait(self, weeks: float, drift_per_week: float) -> None:
        self.spread += drift_per_week * max(weeks, 0.0)

    def see(self, value: float) -> None:
        total = self.spread + 1.0
        surprise = (value - self.level) / np.sqrt(self.variance * total)
        doubt = max(abs(surprise) / DOUBT_BEYOND_SD, 1.0)
        gain = self.spread / (self.spread + doubt**2)
        kept = min(surprise**2, DOUBT_BEYOND_SD**2)
        self.level += gain * (value - self.level)
        self.spread *= 1.0 - gain
        self.variance *= (self.weight + kept) / (self.weight + 1.0)
        self.weight += 1.0


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
    belief = _Belief(
        prior.level_m_s,
        (prior.level_sd_m_s / prior.session_sd_m_s) ** 2,
        prior.session_sd_m_s**2,
        prior.session_sd_weight,
    )
    times = [*weeks, today_week]
    for value, (now, later) in zip(values_m_s, pairwise(times), strict=True):
        belief.see(float(value))
        belief.wait(later - now, prior.drift_per_week)
    sd = float(np.sqrt(belief.variance * (belief.spread + 1.0) + extra_sd_m_s**2))
    half = float(special.stdtrit(belief.weight, 0.5 + COVERAGE / 2)) * sd
    sessions = len(values_m_s)
    return UsualRange(
        belief.level - half, belief.level, belief.level + half, sd, sessions, sessions >= ENOUGH_SESSIONS
    )


def squad_prior(histories: Sequence[FloatArray]) -> SquadPrior:
    """Learn the squad's level and spread from its athletes' own values at their warm-up loads.

    Args:
        histories: one array of values (m/s) an athlete, any lengths; those with fewer than two values tell
            of the level only.

    Returns:
        A prior; `NO_SQUAD` when fewer than three athletes have values.
    """
    levels = np.array([h.mean() for h in histories if len(h)])
    if len(levels) < ENOUGH_SESSIONS:
        return NO_SQUAD
    squares = np.array([h.var(ddof=1) for h in histories if len(h) >= ENOUGH_SESSIONS])
    freedom = np.array([len(h) - 1 for h in histories if len(h) >= ENOUGH_SESSIONS])
    if not len(squares):
        return SquadPrior(float(levels.mean()), float(levels.std(ddof=1)))
    pooled = float(np.sqrt((squares * freedom).sum() / freedom.sum()))
    return SquadPrior(float(levels.mean()), max(float(levels.std(ddof=1)), pooled / 2), max(pooled, 0.01))
