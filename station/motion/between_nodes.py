"""Velocity at the samples, between the smoothed nodes at the frames' ends."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d

from drivers.samples import FloatArray, IntArray
from station.motion.columns import Column
from station.motion.live import CONSTANTS
from station.motion.parameters import STANDARD_GRAVITY_M_S2
from station.motion.smoother import Smoothed

_BENDS_KNOWN_S = 0.025
_SHAKEN_M_S = 0.005
_RINGS_FOR_S = 0.25
_RING_SPREAD_S = 0.0135  # of a Gaussian, twice: leaves 8 % of 30 Hz, nothing of 60 Hz


def at_samples(
    taken: FloatArray, rows: FloatArray, counts: IntArray, up: FloatArray, smoothed: Smoothed
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Time, velocity and vertical acceleration at samples, shapes (n,): nodes joined by the samples' own integral.

    Args:
        taken: time and specific force in the inertial frame, shape (n, 4), s and m/s2.
        rows: the history's rows of their f frames.
        counts: samples of each frame, shape (f,).
        up: direction of up in each frame, shape (f, 3).
        smoothed: velocity at the frames' ends.
    """
    frame = np.repeat(np.arange(len(counts)), counts)
    time = taken[:, 0]
    gravity = STANDARD_GRAVITY_M_S2 - rows[:, Column.MISSING]
    acceleration = dot(taken[:, 1:4], up[frame]) - gravity[frame]
    start = rows[:, Column.END_S] - rows[:, Column.DURATION_S]
    previous = np.concatenate([[start[0]], time[:-1]])
    entering = np.concatenate([acceleration[:1], acceleration[:-1]])
    gained = np.cumsum(0.5 * (acceleration + entering) * (time - previous))
    last = np.cumsum(counts) - 1
    at_start = np.concatenate([[0.0], gained[last][:-1]])
    whole = gained[last] - at_start
    rest = (smoothed.velocity_m_s[1:] - smoothed.velocity_m_s[:-1] - whole) / rows[:, Column.DURATION_S]
    velocity = smoothed.velocity_m_s[frame] + gained - at_start[frame] + rest[frame] * (time - start[frame])
    velocity -= bend_missed(time, acceleration)
    added = rows[:, Column.ON_VELOCITY : Column.ON_VELOCITY + CONSTANTS] @ smoothed.constants
    return time, velocity, acceleration + (added / rows[:, Column.DURATION_S])[frame]


def bend_missed(time: FloatArray, acceleration: FloatArray) -> FloatArray:
    """What the trapezoid rule makes of a bend between samples, shape (n,), m/s: h^2 / 12 times the jerk.

    The first term of the Euler-Maclaurin formula (Abramowitz and Stegun 25.4.7). At 100 Hz it made quick reps 0.008
    m/s too slow. Nothing is known of a bend in a hole.
    """
    if len(time) < 3:
        return np.zeros(len(time))
    after, gained = time[1:] - time[:-1], acceleration[1:] - acceleration[:-1]
    jerk, step = gained / after, np.empty(len(time))
    step[0], step[1:-1], step[-1] = after[0], 0.5 * (after[1:] + after[:-1]), after[-1]
    bend = np.empty(len(time))
    bend[0], bend[-1] = jerk[0], jerk[-1]
    # of a parabola through three samples, each side's slope weighed by how near it is
    bend[1:-1] = (after[:-1] * jerk[1:] + after[1:] * jerk[:-1]) / (after[1:] + after[:-1])
    bend *= step * step / 12
    bend[step >= _BENDS_KNOWN_S] = 0.0
    return bend


def without_ringing(time: FloatArray, velocity: FloatArray, rows: FloatArray) -> FloatArray:
    """Velocity smoothed for as long as steel rings after a shock (30 to 90 Hz), and as it is elsewhere."""
    struck = rows[:, Column.NOISE] > _SHAKEN_M_S**2
    shaken = rows[struck, Column.END_S]
    if len(shaken) == 0 or len(time) < 2:  # a single sample has no interval, and nothing to smooth
        return velocity
    last = np.searchsorted(shaken, time, side="right") - 1
    since = np.where(last < 0, np.inf, time - shaken[last])
    following = np.searchsorted(shaken, time)
    until = np.append(shaken, np.inf)[following] - time
    steps = _RING_SPREAD_S / max(float(np.median(np.diff(time))), 1e-4)
    rings = (since < _RINGS_FOR_S) | (until < np.append(rows[struck, Column.DURATION_S], 0.0)[following])
    smooth = gaussian_filter1d(velocity, steps)
    # Twicing (Tukey 1977): what a smoother takes off is smoothed and given back, so that it flattens no bend.
    return np.where(rings, smooth + gaussian_filter1d(velocity - smooth, steps), velocity)


def dot(a: FloatArray, b: FloatArray) -> FloatArray:
    """Dot products of rows, shape (n,)."""
    return a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1] + a[:, 2] * b[:, 2]
