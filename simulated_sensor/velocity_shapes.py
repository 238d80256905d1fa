"""Velocities of one movement on the fine time grid: pushes, grinding reps, minimum-jerk moves."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import PchipInterpolator

from drivers.samples import FloatArray

FINE_RATE_HZ = 2000.0
"""Of the grid that every simulated movement is made on."""


def samples(seconds: float) -> int:
    """Grid points in so many seconds, at least two."""
    return max(2, round(seconds * FINE_RATE_HZ))


def minimum_jerk_progress(n: int) -> FloatArray:
    """0 to 1 along a minimum-jerk curve, shape (n,) (Flash & Hogan 1985, doi 10.1523/JNEUROSCI.05-07-01688.1985)."""
    s: FloatArray = np.linspace(0.0, 1.0, n)
    progress: FloatArray = s**3 * (10 - 15 * s + 6 * s**2)
    return progress


def minimum_jerk_velocity(distance_m: float, seconds: float) -> FloatArray:
    """Velocity of a minimum-jerk move on the fine grid; its sum over the grid is the distance."""
    s = (np.arange(samples(seconds)) + 0.5) / samples(seconds)
    shape = 30 * s**2 * (1 - s) ** 2
    return _scaled_to(shape, distance_m)


def push_velocity(distance_m: float, mean_m_s: float, rise: float, fall: float) -> FloatArray:
    """Velocity of an upward push, proportional to s^rise (1 - s)^fall, with that distance and mean."""
    n = samples(distance_m / mean_m_s)
    s = (np.arange(n) + 0.5) / n
    shape = s**rise * (1 - s) ** fall
    return _scaled_to(shape, distance_m)


def grinding_velocity(
    distance_m: float, mean_m_s: float, sticking_m_s: float, rng: np.random.Generator
) -> FloatArray:
    """Velocity of a heavy rep: a first peak, a sticking region down to `sticking_m_s`, a second peak."""
    n = samples(distance_m / mean_m_s)
    s = (np.arange(n) + 0.5) / n
    knots = np.array([0.0, rng.uniform(0.12, 0.2), rng.uniform(0.38, 0.55), rng.uniform(0.72, 0.85), 1.0])
    second = rng.uniform(0.8, 1.3)

    def curve(peak: float) -> FloatArray:
        heights = np.array([0.0, peak, min(sticking_m_s, 0.9 * peak), second * peak, 0.0])
        return np.asarray(PchipInterpolator(knots, heights)(s), dtype=np.float64)

    low, high = 0.2 * mean_m_s, 8.0 * mean_m_s
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if curve(middle).mean() < mean_m_s else (low, middle)
    shape = curve(high)
    return _scaled_to(shape, distance_m)


def _scaled_to(shape: FloatArray, distance_m: float) -> FloatArray:
    velocity: FloatArray = shape * (distance_m * FINE_RATE_HZ / float(shape.sum()))
    return velocity
