"""Simple rules that the model has to beat: the last six sessions, a moving average, two sets of today."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

# EWMA of the NIST/SEMATECH e-Handbook, 6.3.2.4 (doi 10.18434/M32189).
LAMBDA = 0.3


def ewma(values: Sequence[float], start: float, weight: float = LAMBDA) -> list[float]:
    """z_t = weight * x_t + (1 - weight) * z_(t-1), from z_0 = start: one more than there are values."""
    smoothed = [start]
    for value in values:
        smoothed.append(weight * value + (1.0 - weight) * smoothed[-1])
    return smoothed


def ewma_limits(target: float, sd: float, wide: float = 3.0, weight: float = LAMBDA) -> tuple[float, float]:
    """Steady-state control limits."""
    half = wide * sd * float(np.sqrt(weight / (2.0 - weight)))
    return target - half, target + half


def last_six(values: Sequence[float]) -> tuple[float, float] | None:
    """Mean +/- 1.28 SD of the last six; None before six."""
    if len(values) < 6:
        return None
    latest = np.array(values[-6:])
    half = 1.28 * float(latest.std(ddof=1))
    return float(latest.mean()) - half, float(latest.mean()) + half


def ewma_rule(values: Sequence[float]) -> tuple[float, float] | None:
    """The moving average +/- 1.28 predictive SDs, the SD being that of all own values; None before six.

    The moving average itself varies with weight / (2 - weight) of the variance of one value.
    """
    if len(values) < 6:
        return None
    middle = ewma(values, values[0])[-1]
    half = 1.28 * float(np.std(values, ddof=1)) * float(np.sqrt(1.0 + LAMBDA / (2.0 - LAMBDA)))
    return middle - half, middle + half


def two_point_1rm_kg(
    loads_kg: tuple[float, float], velocities_m_s: tuple[float, float], at_1rm_m_s: float
) -> float:
    """The line through two sets of today, carried to the velocity at 1RM."""
    slope = (velocities_m_s[1] - velocities_m_s[0]) / (loads_kg[1] - loads_kg[0])
    return float(loads_kg[0] + (at_1rm_m_s - velocities_m_s[0]) / slope) if slope else float("inf")
