"""The station's bounds rule applied to exact velocity: what a measurement should have found.

Written apart from the station's own code on purpose, so that one checks the other.
"""

from __future__ import annotations

import numpy as np

from drivers.samples import FloatArray
from simulated_sensor.imu_errors import SensorErrors
from simulated_sensor.kinematics import BarMotion, Mounting
from simulated_sensor.trace import TrueRep
from simulated_sensor.velocity_shapes import FINE_RATE_HZ

MOVING_M_S = 0.08
SLOW_M_S = 0.04
LONGEST_EXTRAPOLATION_S = 0.10
FREE_FALL_M_S2 = -9.81


def true_rep(velocity_m_s: FloatArray, first: int, last: int, *, failed: bool = False) -> TrueRep | None:
    """The rep whose fast part lies within grid points first..last, or None if it never passes 0.08 m/s.

    Start: the line through the 0.08 and 0.04 m/s crossings reaches zero there, at most 0.10 s before the latter.
    End: mirrored.
    """
    fast = first + np.flatnonzero(velocity_m_s[first:last] > MOVING_M_S)
    if len(fast) == 0:
        return None
    start = _zero(velocity_m_s, int(fast[0]), -1)
    end = _zero(velocity_m_s, int(fast[-1]), +1)
    grid = np.arange(len(velocity_m_s)) / FINE_RATE_HZ
    inside = slice(int(np.ceil(start * FINE_RATE_HZ)), int(np.floor(end * FINE_RATE_HZ)) + 1)
    time = np.concatenate([[start], grid[inside], [end]])
    curve = np.interp(time, grid, velocity_m_s)
    distance = float(np.trapezoid(curve, time))
    brake = _braking_from(time, curve)
    propulsive = float(np.trapezoid(curve[: brake + 1], time[: brake + 1])) / (time[brake] - start)
    peak = float(curve.max())
    return TrueRep(start, end, distance / (end - start), propulsive, peak, distance, failed)


def felt_mean_velocity_m_s(
    rep: TrueRep, motion: BarMotion, mounting: Mounting, errors: SensorErrors
) -> float:
    """Mean velocity of a rep at the sensor's own place and on its own scale.

    Gravity at rest tells the vertical and the offset along it, but not how much of the offset is scale: a rise reads
    too large by u' (M - 1) u, with M the accelerometer's matrix and u the vertical on its axes.
    """
    start, end = rep.start_time_s, rep.end_time_s
    at = np.round(np.array([start, (start + end) / 2, end]) * FINE_RATE_HZ).astype(np.int64)
    attitude = motion.attitude(at)
    above_axis_m = attitude.apply(mounting.offset_m)[:, 2]
    up = (attitude[1] * mounting.orientation).inv().apply([0.0, 0.0, 1.0])
    scale = float(up @ errors.acc_matrix @ up)
    rise_m = rep.displacement_m + float(above_axis_m[2] - above_axis_m[0])
    return scale * rise_m / (end - start)


def _zero(velocity: FloatArray, fast: int, step: int) -> float:
    """Where the line through the two crossings next to `fast`, going by `step`, reaches zero; s."""
    i = fast
    while 0 <= i + step < len(velocity) and velocity[i + step] > SLOW_M_S:
        i += step
    j = fast
    quick = _crossing(velocity, j, step, MOVING_M_S)
    slow = _crossing(velocity, i, step, SLOW_M_S)
    reach = min(abs(slow - quick) * SLOW_M_S / (MOVING_M_S - SLOW_M_S), LONGEST_EXTRAPOLATION_S)
    return float(np.clip(slow + step * reach, 0.0, (len(velocity) - 1) / FINE_RATE_HZ))


def _crossing(velocity: FloatArray, i: int, step: int, level: float) -> float:
    """Time between grid points i and i + step where velocity passes the level."""
    j = i + step
    if not 0 <= j < len(velocity):
        return i / FINE_RATE_HZ
    share = (velocity[i] - level) / max(velocity[i] - velocity[j], 1e-12)
    return (i + step * float(np.clip(share, 0.0, 1.0))) / FINE_RATE_HZ


def _braking_from(time: FloatArray, curve: FloatArray) -> int:
    """Index where acceleration first falls below free fall after the peak, else the last index."""
    acceleration = np.gradient(curve, time)
    peak = int(np.argmax(curve))
    braking = np.flatnonzero(acceleration[peak:-1] < FREE_FALL_M_S2)
    return peak + int(braking[0]) if len(braking) else len(curve) - 1
