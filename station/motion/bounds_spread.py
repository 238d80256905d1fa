"""How far the figures of a movement may move with its bounds, given what the smoother is unsure of.

The bounds rule is steep where a bar lingers between 0.04 and 0.08 m/s: a velocity that is 0.03 m/s off then moves the
end by a tenth of a second, and mean velocity by a tenth. The half-width of the rise alone does not know of it. So the
movement is measured again on curves that are off along the greatest directions of the velocities' covariance
(Gauss-Hermite quadrature, Abramowitz and Stegun 25.4.46).
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from drivers.samples import FloatArray
from station.motion.bounds import Movement, UpwardRun, before_swinging, cumulative, mean_velocity
from station.motion.curve import Curve
from station.motion.parameters import EngineParameters

_BEFORE_S, _AFTER_S = 0.15, 0.3
_DIRECTIONS = 2
_SURE_M_S = 0.003  # so sure everywhere that no bound moves
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
_SHARES = _WEIGHTS / _WEIGHTS.sum()


def spread_of_mean_velocity(curve: Curve, run: UpwardRun, movement: Movement, p: EngineParameters) -> float:
    """Standard deviation of a movement's mean velocity, bounds included, m/s; 0 where the curve is sure.

    Args:
        curve: the smoothed curve.
        run, movement: the movement on it, and its figures.
        p: the engine's parameters.
    """
    first = curve.node_near(movement.start_time_s - _BEFORE_S)
    nodes = np.arange(first, curve.node_near(movement.end_time_s + _AFTER_S) + 1)
    sizes, directions = np.linalg.eigh(p.steep_share**2 * curve.smoothed.velocity_covariance(nodes))
    if sizes[-1] < _SURE_M_S**2 * len(nodes):
        return 0.0
    final_s = np.inf if run.final is None else float(curve.time_s[run.final])
    until_s = min(final_s, movement.end_time_s + _AFTER_S)
    low, high = np.searchsorted(curve.time_s, [movement.start_time_s - _BEFORE_S, until_s])
    where, variance = slice(low, high), 0.0
    as_it_is = _mean_velocity(curve, where, np.zeros(high - low), movement, p)
    for size, direction in zip(sizes[-_DIRECTIONS:], directions.T[-_DIRECTIONS:], strict=True):
        off = np.interp(curve.time_s[where], curve.frame_time_s[nodes], sqrt(max(size, 0.0)) * direction)
        means = np.array(
            [_mean_velocity(curve, where, node * off, movement, p) if node else as_it_is for node in _NODES]
        )
        variance += float(_SHARES @ (means - _SHARES @ means) ** 2)
    return sqrt(variance)


def _mean_velocity(
    curve: Curve, where: slice, off_m_s: FloatArray, movement: Movement, p: EngineParameters
) -> float:
    """Mean velocity of the movement on a curve that is off by so much; as it is where nothing is left of it."""
    steady = curve.steady_m_s[where] + off_m_s
    fast = np.flatnonzero(steady > p.moving_m_s)
    if len(fast) == 0:
        return movement.mean_velocity_m_s
    time, first, last = curve.time_s[where], int(fast[0]), int(fast[-1])
    if last - first >= len(fast):  # it passes the mark more than once
        last = before_swinging(steady, cumulative(time, steady), fast, p)
    run = UpwardRun(first, last, None)
    return mean_velocity(time, curve.velocity_m_s[where] + off_m_s, run, p, steady)
