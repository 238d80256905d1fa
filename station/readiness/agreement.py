"""How well two devices agree on the same repetitions, and how well one agrees with itself from day to day.

Sources: limits of agreement, Bland & Altman, Lancet 1986;327:307-310, and their confidence, Stat Methods Med Res
1999;8:135-160; typical error, Hopkins, Sports Med 2000;30:1-15. The smallest detectable change is 1.96 sqrt(2) times
the standard error of measurement; the criterion of 0.07 m/s is that of Martinez-Cava et al., PLoS One
2020;15(6):e0232465.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.stats import t

from drivers.samples import FloatArray

DETECTABLE_CRITERION_M_S = 0.07
FEWEST_PAIRS = 3


@dataclass(frozen=True, slots=True)
class Agreement:
    """Two devices on the same repetitions, m/s throughout; the difference is ours minus the reference.

    Attributes:
        pairs: repetitions compared.
        bias, bias_half_width: mean difference, and half the width of its 95 % interval.
        sd: standard deviation of the differences.
        lower, upper: limits of agreement.
        detectable: smallest detectable change, from the differences.
        slope: of the difference over the mean of both: not zero where the bias grows with speed.
    """

    pairs: int
    bias: float
    bias_half_width: float
    sd: float
    lower: float
    upper: float
    detectable: float
    slope: float

    @property
    def meets_criterion(self) -> bool:
        """Whether the smallest detectable change is below the published criterion."""
        return self.detectable < DETECTABLE_CRITERION_M_S


@dataclass(frozen=True, slots=True)
class Repeatability:
    """One device on repeated days: typical error of a day's value, m/s, and the change that it lets be seen."""

    pairs_of_days: int
    typical_error: float
    detectable: float


def agreement(ours_m_s: FloatArray, reference_m_s: FloatArray) -> Agreement:
    """Compare two devices.

    Args:
        ours_m_s, reference_m_s: mean velocities of the same repetitions, shape (n,), at least three.

    Raises:
        ValueError: there are too few pairs.
    """
    n = len(ours_m_s)
    if n < FEWEST_PAIRS or n != len(reference_m_s):
        raise ValueError(
            f"At least {FEWEST_PAIRS} repetitions measured by both devices are needed; there are {n}."
        )
    off = np.asarray(ours_m_s, dtype=np.float64) - reference_m_s
    middle = 0.5 * (np.asarray(ours_m_s) + reference_m_s)
    bias, sd = float(off.mean()), float(off.std(ddof=1))
    spread = float(((middle - middle.mean()) ** 2).sum())
    slope = float(((middle - middle.mean()) * off).sum() / spread) if spread > 0 else 0.0
    half = float(t.ppf(0.975, n - 1)) * sd / float(np.sqrt(n))
    # the error of either device alone is taken as sd / sqrt(2): the reference is not free of error
    return Agreement(n, bias, half, sd, bias - 1.96 * sd, bias + 1.96 * sd, 1.96 * sd, slope)


def repeatability(days: Mapping[object, list[float]]) -> Repeatability | None:
    """Typical error of a day's value from subjects measured on several days; None where nobody was.

    Args:
        days: of each subject (athlete, lift, load), its values in order of days, m/s.
    """
    changes = [np.diff(values) for values in days.values() if len(values) > 1]
    if not changes:
        return None
    # a change that all share between two days is no error: taken off through the mean
    every = np.concatenate(changes)
    if len(every) < 2:
        return None
    error = float(every.std(ddof=1)) / float(np.sqrt(2))
    return Repeatability(len(every), error, 1.96 * float(np.sqrt(2)) * error)
