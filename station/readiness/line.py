"""The load-velocity line of one athlete and lift, shrunk towards the squad's where the own data are few.

Velocity as a function of load is close to a straight line (Gonzalez-Badillo & Sanchez-Medina 2010, doi
10.1055/s-0030-1248333). Velocity is regressed on load, never load on velocity: the two give different answers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from drivers.samples import FloatArray


@dataclass(frozen=True, slots=True)
class LoadVelocityLine:
    """v = intercept + slope * load, with the covariance of both (m/s; kg).

    Attributes:
        covariance: 2 x 2, of (intercept, slope).
        residual_sd_m_s: spread of sets about the line.
    """

    intercept_m_s: float
    slope_m_s_per_kg: float
    covariance: FloatArray
    residual_sd_m_s: float

    def velocity_m_s(self, load_kg: float) -> float:
        """Expected velocity at a load."""
        return self.intercept_m_s + self.slope_m_s_per_kg * load_kg

    def load_kg(self, velocity_m_s: float) -> float:
        """The load at which a velocity is expected."""
        return (velocity_m_s - self.intercept_m_s) / self.slope_m_s_per_kg


@dataclass(frozen=True, slots=True)
class LinePrior:
    """What lines look like across the squad: mean and covariance of (velocity at the 1RM-free end, slope)."""

    mean: FloatArray
    covariance: FloatArray


def relative_prior(velocity_at_1rm_m_s: float, guessed_1rm_kg: float) -> LinePrior:
    """A weak prior from the general relation: an unloaded bar moves about 1.5 m/s faster than the 1RM.

    From the full-squat equation (Sanchez-Medina et al. 2017, doi 10.1055/s-0043-102933): mean velocity 1.10 at half
    and 0.32 m/s at all of the maximum, so 1.55 m/s over the whole range; others are similar to a quarter.
    """
    span = 1.55
    slope = -span / guessed_1rm_kg
    sd = np.array([0.40, 0.5 * abs(slope)])
    # A steeper line starts higher: the two move against each other.
    correlation = -0.7
    covariance = np.outer(sd, sd) * np.array([[1.0, correlation], [correlation, 1.0]])
    return LinePrior(np.array([velocity_at_1rm_m_s + span, slope]), covariance)


def fit_line(
    loads_kg: Sequence[float] | FloatArray,
    velocities_m_s: Sequence[float] | FloatArray,
    prior: LinePrior | None = None,
    residual_sd_m_s: float = 0.045,
) -> LoadVelocityLine:
    """Least squares of velocity on load, with a normal prior on the coefficients where one is given.

    Args:
        loads_kg, velocities_m_s: one value a set, shape (n,).
        prior: the squad's lines; with it, any number of sets will do.
        residual_sd_m_s: known spread of sets about a line; estimated from four sets on.

    Raises:
        ValueError: without a prior, fewer than two different loads.
    """
    load = np.asarray(loads_kg, dtype=float)
    velocity = np.asarray(velocities_m_s, dtype=float)
    if prior is None and len(np.unique(load)) < 2:
        raise ValueError("a line needs sets at two different loads")
    design = np.column_stack([np.ones_like(load), load])
    sd = _residual_sd(design, velocity, residual_sd_m_s)
    precision = design.T @ design / sd**2
    target = design.T @ velocity / sd**2
    if prior is not None:
        prior_precision = np.linalg.inv(prior.covariance)
        precision = precision + prior_precision
        target = target + prior_precision @ prior.mean
    covariance = np.linalg.inv(precision)
    intercept, slope = covariance @ target
    return LoadVelocityLine(float(intercept), float(slope), covariance, sd)


def _residual_sd(design: FloatArray, velocity: FloatArray, fallback: float) -> float:
    """Residual SD with n - 2 degrees of freedom, pooled with the fallback worth four sets."""
    n = len(velocity)
    if n < 4 or np.ptp(design[:, 1]) == 0.0:
        return fallback
    coefficients, *_ = np.linalg.lstsq(design, velocity, rcond=None)
    squares = float(((velocity - design @ coefficients) ** 2).sum())
    return float(np.sqrt((squares + 4 * fallback**2) / (n - 2 + 4)))
