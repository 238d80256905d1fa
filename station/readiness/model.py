"""The athlete's model: a load-velocity line that drifts with strength, a state of each day, the noise of each set.

Velocity at a load = level - fall * (load / reference - 1) + drift + day + set noise, all normal with squad-given
spreads and one unknown scale for the athlete's own spread. That is a linear mixed model (Laird & Ware 1982), solved
at once from the covariance of the observations (Rasmussen & Williams 2006, eq. 2.25; both from memory); with an
inverse-gamma scale the prediction is Student's t.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from drivers.samples import FloatArray
from station.readiness.prior import SquadPrior

# A trend of strength keeps for about a training block and a half, then is another (an assumption; the figures hold
# for steady drifts over 20 weeks and for a wander).
TREND_KEEPS_WEEKS = 20.0
# Today may differ from the last session by more than the smooth trend says: a share of the session variance a week.
WANDER_SHARE_PER_WEEK = 0.001
# Another sensor or bar: a 3 % plate error is worth 0.03 to 0.04 m/s, one day-to-day SD.
EQUIPMENT_SD_M_S = 0.04
# A set further from what all the others predict than this many SDs is believed less and less (Huber's idea), and
# from the second figure on not at all, so that one wild value neither moves the level nor widens the range for
# months. Today's sets are always believed: they are what is asked about.
DOUBT_BEYOND_SD = 2.5
WILD_BEYOND_SD = 4.0
_NOT_BELIEVED = 1e4
_DOUBTING_ROUNDS = 2


@dataclass(frozen=True, eq=False, slots=True)
class Sets:
    """Sets as arrays, one row a set, shape (n,) each.

    Attributes:
        weeks: time, at most 0; 0 is today.
        session: a number for each session.
        like: what kind of day (as the match calendar sees it), as a number; today's kind is 0.
        equipment: which sensor and bar, as a number; today's are 0.
    """

    load_kg: FloatArray
    velocity_m_s: FloatArray
    weeks: FloatArray
    session: FloatArray
    like: FloatArray
    equipment: FloatArray

    def __len__(self) -> int:
        return len(self.load_kg)


@dataclass(frozen=True, eq=False, slots=True)
class Posterior:
    """What is known of some quantities: normal given the scale, Student's t with `freedom` for all we know."""

    mean: FloatArray
    covariance: FloatArray
    freedom: float

    def of(self, weights: Sequence[float] | FloatArray) -> tuple[float, float]:
        """Mean and SD of a weighted sum."""
        w = np.asarray(weights, dtype=float)
        return float(w @ self.mean), float(np.sqrt(max(w @ self.covariance @ w, 0.0)))

    def quantile(self, probability: float) -> float:
        """Of the standardised value."""
        return float(special.stdtrit(self.freedom, probability))


class AthleteModel:
    """One athlete and lift, seen from today.

    Args:
        sets: the fresh, counted sets so far, today's own last if there are any.
        reference_kg: the warm-up load; levels and trends are given at it.
        prior: the squad's experience.
    """

    def __init__(self, sets: Sets, reference_kg: float, prior: SquadPrior) -> None:
        self.sets, self.reference_kg, self.prior = sets, reference_kg, prior
        self._relative = sets.load_kg / reference_kg
        self._design = np.column_stack([np.ones(len(sets)), 1.0 - self._relative])
        self._solve()

    # -- what is asked ---------------------------------------------------------------------------------------------

    def next_set(self, load_kg: float) -> Posterior:
        """The velocity of a fresh set today at this load, in a session that has not begun: shape (1,)."""
        relative = load_kg / self.reference_kg
        basis = np.array([1.0, 1.0 - relative])
        cross = self._design @ self.prior.line_covariance @ basis
        own = basis @ self.prior.line_covariance @ basis + self.prior.session_sd_m_s**2
        return self._given(np.array([basis @ self.prior.line_mean]), np.array([[own]]), cross[None, :])

    def today(self, session: int | None = None) -> Posterior:
        """Level and fall of the line, and the state of today's session: shape (3,), m/s.

        Args:
            session: the number of today's session among the sets; None when it has none yet.
        """
        line = self.prior.line_covariance
        same = np.zeros(len(self.sets)) if session is None else (self.sets.session == session).astype(float)
        cross = np.vstack([line @ self._design.T, self.prior.day_variance * same])
        own = np.zeros((3, 3))
        own[:2, :2], own[2, 2] = line, self.prior.day_variance
        return self._given(np.array([*self.prior.line_mean, 0.0]), own, cross)

    def strength_since(self, weeks_ago: float) -> Posterior:
        """By how much the level at the warm-up load has changed since then, m/s, and the fall: shape (2,)."""
        drift = _drift(self.sets.weeks, np.array([-weeks_ago]), self.prior)[:, 0] * self._relative
        line = self.prior.line_covariance
        cross = np.vstack([-drift, line[1] @ self._design.T])
        then = float(_drift(np.array([-weeks_ago]), np.array([-weeks_ago]), self.prior)[0, 0])
        own = np.array([[then, 0.0], [0.0, line[1, 1]]])
        return self._given(np.array([0.0, self.prior.line_mean[1]]), own, cross)

    # -- how it is answered ----------------------------------------------------------------------------------------

    def _solve(self) -> None:
        """Invert the covariance of the observations; wild ones are given more noise and it is done again."""
        residual = self.sets.velocity_m_s - self._design @ self.prior.line_mean
        covariance = self._covariance()
        noise = np.zeros(len(self.sets))
        for round_ in range(_DOUBTING_ROUNDS + 1):
            self._inverse = np.linalg.inv(covariance + np.diag(noise))
            self._weights = self._inverse @ residual
            weight = self.prior.session_sd_weight
            self._freedom = weight + len(self.sets)
            self._scale = (weight + float(residual @ self._weights)) / self._freedom
            if round_ == _DOUBTING_ROUNDS or not len(self.sets):
                break
            more = self._doubted()
            if not more.any():
                break
            noise = noise + more

    def _doubted(self) -> FloatArray:
        """Extra variance for sets that all others together do not expect (leave-one-out residuals)."""
        precision = np.diag(self._inverse)
        surprise = np.abs(self._weights) / np.sqrt(precision)
        over = np.maximum(surprise / DOUBT_BEYOND_SD, 1.0) ** 2 - 1.0
        over = np.where(surprise > WILD_BEYOND_SD, _NOT_BELIEVED, over) * (self.sets.weeks < 0.0)
        # 1 / precision is the variance with which the others predict this set.
        return np.where(over > 0.0, over / precision, 0.0)

    def _covariance(self) -> FloatArray:
        s, prior = self.sets, self.prior
        return np.asarray(
            self._design @ prior.line_covariance @ self._design.T
            + _drift(s.weeks, s.weeks, prior) * np.outer(self._relative, self._relative)
            + prior.day_variance * (s.session[:, None] == s.session)
            + prior.like_day_sd_m_s**2 * _alike(s.like)
            + EQUIPMENT_SD_M_S**2 * _alike(s.equipment)
            + prior.set_variance * np.eye(len(s))
        )

    def _given(self, mean: FloatArray, own: FloatArray, cross: FloatArray) -> Posterior:
        """Mean and covariance after the observations, with the learned scale."""
        covariance = (own - cross @ self._inverse @ cross.T) * self._scale
        return Posterior(mean + cross @ self._weights, covariance, self._freedom)


def _alike(codes: FloatArray) -> FloatArray:
    """Which pairs of sets share an offset; those of today's kind (0) have none: the level is theirs."""
    return np.asarray((codes[:, None] == codes) & (codes != 0.0), dtype=float)


def _drift(a_weeks: FloatArray, b_weeks: FloatArray, prior: SquadPrior) -> FloatArray:
    """Covariance of the drift at two times before today (where it is zero): shape (len(a), len(b)).

    A trend that forgets itself over `TREND_KEEPS_WEEKS` (an integrated Ornstein-Uhlenbeck process: a straight line
    over short times, a random walk over long ones), and a small wander.
    """
    a, b = -a_weeks[:, None] / TREND_KEEPS_WEEKS, -b_weeks[None, :] / TREND_KEEPS_WEEKS
    least = np.minimum(a, b)
    smooth = 2.0 * least - 1.0 + np.exp(-a) + np.exp(-b) - np.exp(-np.abs(a - b))
    wander = WANDER_SHARE_PER_WEEK * prior.session_sd_m_s**2 * least * TREND_KEEPS_WEEKS
    return np.asarray((prior.trend_sd_m_s * TREND_KEEPS_WEEKS) ** 2 * smooth + wander)
