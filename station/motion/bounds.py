"""The bounds rule: where an upward movement starts and ends on a velocity curve, and the figures between.

Start: follow velocity back from the first instant above 0.08 m/s to where it was 0.04 m/s; the straight line through
those two crossings reaches zero at the start, at most 0.10 s before the latter. End: the same, mirrored. A bar that
rings on the floor has not begun, one that has turned back at the top and swings on has arrived: either goes nowhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivers.samples import FloatArray, IntArray
from station.motion.crossings import crossing
from station.motion.parameters import EngineParameters

_FREE_FALL_M_S2 = -9.81
_GOING_NOWHERE_M = 0.01


@dataclass(frozen=True, eq=False, slots=True)
class Movement:
    """One upward movement between its bounds. Times in s, the rest in SI."""

    start_time_s: float
    end_time_s: float
    mean_velocity_m_s: float
    mean_propulsive_velocity_m_s: float
    peak_velocity_m_s: float
    displacement_m: float
    curve_time_s: FloatArray
    curve_m_s: FloatArray

    @property
    def duration_s(self) -> float:
        """From start to end, s."""
        return self.end_time_s - self.start_time_s


@dataclass(frozen=True, slots=True)
class UpwardRun:
    """Indices into a velocity curve: first and last sample above 0.08 m/s, and the sample that made the end final.

    Attributes:
        final: index of that sample, or None while the movement may still go on.
        came_down: final because the bar came down, not because it stood still.
    """

    first: int
    last: int
    final: int | None
    came_down: bool = False


def upward_runs(
    time_s: FloatArray, velocity_m_s: FloatArray, parameters: EngineParameters
) -> list[UpwardRun]:
    """All upward movements of a curve, in order; only the last one may be unfinished.

    Args:
        time_s, velocity_m_s: shape (n,), increasing time.
        parameters: the rule's figures.
    """
    height = cumulative(time_s, velocity_m_s)
    runs: list[UpwardRun] = []
    fast = np.flatnonzero(velocity_m_s > parameters.moving_m_s)
    at = 0
    while at < len(fast):
        first = int(fast[at])
        final, came_down = _final_sample(time_s, velocity_m_s, height, first, parameters)
        stop = len(velocity_m_s) if final is None else final
        at_stop = int(np.searchsorted(fast, stop))
        first = _after_ringing(velocity_m_s, height, fast[at:at_stop], parameters)
        last = before_swinging(velocity_m_s, height, fast[at:at_stop], parameters)
        runs.append(UpwardRun(first, max(first, last), final, came_down))
        at = max(at_stop, at + 1)
    return runs


def _after_ringing(
    velocity: FloatArray, height: FloatArray, fast: IntArray, parameters: EngineParameters
) -> int:
    """First sample of the movement proper: a bar ringing on the floor passes the mark many times, going nowhere."""
    first = int(fast[0])
    for k in np.flatnonzero(np.diff(fast) > 1):
        ended, again = int(fast[k]), int(fast[k + 1])
        if height[ended] - height[first] > _GOING_NOWHERE_M:
            break
        if velocity[ended:again].min() <= parameters.slow_m_s:
            first = again
    return first


def before_swinging(
    velocity: FloatArray, height: FloatArray, fast: IntArray, parameters: EngineParameters
) -> int:
    """Last sample of the movement proper: a bar that whips turns back at the top and passes the mark again.

    Args:
        velocity, height: the curve, shape (n,).
        fast: indices of its samples above 0.08 m/s.
        parameters: the rule's figures.
    """
    last = int(fast[-1])
    for k in np.flatnonzero(np.diff(fast) > 1)[::-1]:
        ended, again = int(fast[k]), int(fast[k + 1])
        if height[fast[-1]] - height[ended] > _GOING_NOWHERE_M:
            break
        if velocity[ended:again].min() < 0.0:
            last = ended
    return last


def _final_sample(
    time: FloatArray, velocity: FloatArray, height: FloatArray, first: int, parameters: EngineParameters
) -> tuple[int | None, bool]:
    """First sample after `first` where the movement is over: settled, or come down."""
    above = velocity[first:] > parameters.slow_m_s
    since_above = np.maximum.accumulate(np.where(above, time[first:], -np.inf))
    settled = time[first:] - since_above >= parameters.settled_s
    down = np.maximum.accumulate(height[first:]) - height[first:] >= parameters.come_down_m
    over = np.flatnonzero(settled | down)
    if len(over) == 0:
        return None, False
    return first + int(over[0]), bool(down[over[0]])


def measure(
    time_s: FloatArray,
    velocity_m_s: FloatArray,
    acceleration_m_s2: FloatArray,
    run: UpwardRun,
    parameters: EngineParameters,
    steady_m_s: FloatArray | None = None,
) -> Movement:
    """The movement of a run, bounded by the rule.

    Args:
        time_s, velocity_m_s, acceleration_m_s2: the curve, shape (n,); acceleration is vertical, without gravity.
        run: one of `upward_runs`.
        parameters: the rule's figures.
        steady_m_s: the velocity to find the bounds on, shape (n,), where the bar rings; by default the curve's.
    """
    time, curve = _between_bounds(
        time_s, velocity_m_s, run, parameters, velocity_m_s if steady_m_s is None else steady_m_s
    )
    start, end = float(time[0]), float(time[-1])
    height = cumulative(time, curve)
    brake = _braking_from(time, curve, np.interp(time, time_s, acceleration_m_s2))
    propulsive = height[brake] / max(time[brake] - start, 1e-9)
    mean = float(height[-1]) / max(end - start, 1e-9)
    return Movement(start, end, mean, float(propulsive), float(curve.max()), float(height[-1]), time, curve)


def mean_velocity(
    time_s: FloatArray,
    velocity_m_s: FloatArray,
    run: UpwardRun,
    parameters: EngineParameters,
    steady_m_s: FloatArray,
) -> float:
    """The mean velocity that `measure` gives, alone, m/s."""
    time, curve = _between_bounds(time_s, velocity_m_s, run, parameters, steady_m_s)
    return float(cumulative(time, curve)[-1]) / max(float(time[-1] - time[0]), 1e-9)


def _between_bounds(
    time_s: FloatArray,
    velocity_m_s: FloatArray,
    run: UpwardRun,
    parameters: EngineParameters,
    steady_m_s: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Times and velocities of a movement from its start to its end."""
    start = _zero(time_s, steady_m_s, run.first, -1, parameters)
    end = _zero(time_s, steady_m_s, run.last, +1, parameters)
    low, high = np.searchsorted(time_s, [start, end], side="right")
    time = np.concatenate([[start], time_s[low:high], [end]])
    return time, np.interp(time, time_s, velocity_m_s)


def _zero(
    time: FloatArray, velocity: FloatArray, fast: int, step: int, parameters: EngineParameters
) -> float:
    """Where the line through the crossings next to sample `fast`, going by `step`, reaches zero; s."""
    beyond = velocity[fast:] if step > 0 else velocity[fast::-1]
    slow = np.flatnonzero(beyond <= parameters.slow_m_s)
    at_slow = fast + step * (int(slow[0]) if len(slow) else len(beyond) - 1)
    fast_time = crossing(time, velocity, fast + step, -step, parameters.moving_m_s)
    slow_time = crossing(time, velocity, at_slow, -step, parameters.slow_m_s)
    per_speed = abs(slow_time - fast_time) / (parameters.moving_m_s - parameters.slow_m_s)
    reach = min(per_speed * parameters.slow_m_s, parameters.longest_extrapolation_s)
    return float(np.clip(slow_time + step * reach, time[0], time[-1]))


def _braking_from(time: FloatArray, curve: FloatArray, acceleration: FloatArray) -> int:
    """Index where acceleration first falls below free fall after peak velocity, else the last."""
    peak = int(np.argmax(curve))
    braking = np.flatnonzero(acceleration[peak:-1] < _FREE_FALL_M_S2)
    return peak + int(braking[0]) if len(braking) else len(time) - 1


def cumulative(time: FloatArray, curve: FloatArray) -> FloatArray:
    """Trapezoid integral from the first point, shape (n,)."""
    steps = 0.5 * (curve[1:] + curve[:-1]) * np.diff(time)
    return np.concatenate([[0.0], np.cumsum(steps)])
