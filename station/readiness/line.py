"""A straight line through sets at several loads: plain least squares of velocity on load.

Velocity as a function of load is close to a straight line (Gonzalez-Badillo & Sanchez-Medina 2010, doi
10.1055/s-0030-1248333). Velocity is regressed on load, never load on velocity: the two give different answers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from drivers.samples import FloatArray


@dataclass(frozen=True, eq=False, slots=True)
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


def fit_line(
    loads_kg: Sequence[float] | FloatArray, velocities_m_s: Sequence[float] | FloatArray
) -> LoadVelocityLine:
    """Least squares of velocity on load.

    Args:
        loads_kg, velocities_m_s: one value a set, shape (n,).

    Raises:
        ValueError: fewer than two different loads.
    """
    load = np.asarray(loads_kg, dtype=float)
    velocity = np.asarray(velocities_m_s, dtype=float)
    if len(np.unique(load)) < 2:
        raise ValueError("a line needs sets at two different loads")
    design = np.column_stack([np.ones_like(load), load])
    (intercept, slope), *_ = np.linalg.lstsq(design, velocity, rcond=None)
    residual = velocity - design @ np.array([intercept, slope])
    freedom = len(load) - 2
    variance = float(residual @ residual) / freedom if freedom else float("nan")
    covariance = variance * np.linalg.inv(design.T @ design)
    return LoadVelocityLine(float(intercept), float(slope), covariance, float(np.sqrt(variance)))
