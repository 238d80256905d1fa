"""Samples taken together into frames of about 0.04 s, turned into one slowly drifting inertial frame.

A frame closes at the first sample at least `frame_s` after the last frame's closing sample, so frames do not depend
on how the samples were handed over. Rotation comes from the gyro alone; what is left of its bias makes the inertial
frame drift, which the tilt estimate follows. Only element-wise arithmetic and running sums are used, so that taking
many frames at once gives the same bits as taking them one by one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.samples import FloatArray, IntArray

_SMOOTH_STEP_M_S = 0.04  # a force step between two samples, times the time between them: more is a shock
_SEES_SHOCKS_S = (
    0.005  # steel rings at 30 to 90 Hz: samples this far apart follow it, others the less the further
)
_SLOWEST_S = 0.02  # samples further apart than this have a hole between them, which is another matter
_LONGEST_TURN_S = 0.5  # over a longer hole the turn is not known, and not guessed


@dataclass(frozen=True, eq=False, slots=True)
class FrameStatistics:
    """What rest looks like, frame by frame, on the sensor's axes.

    Attributes:
        end_time_s, duration_s: shape (f,).
        samples: samples per frame, shape (f,).
        mean_acc_m_s2, mean_gyr_rad_s: shape (f, 3).
        acc_variance, gyr_variance: summed over axes, shape (f,).
        acc_low_m_s2, acc_high_m_s2: smallest and largest value of each axis, shape (f, 3).
        jolt_m_s: what samples this far apart may have missed of shocks, shape (f,): force steps times the time
            between samples, beyond 0.04 m/s, the more the further apart these are; root of the sum of squares.
        longest_step_s: longest time between two samples of the frame, shape (f,).
    """

    end_time_s: FloatArray
    duration_s: FloatArray
    samples: IntArray
    mean_acc_m_s2: FloatArray
    mean_gyr_rad_s: FloatArray
    acc_variance: FloatArray
    gyr_variance: FloatArray
    acc_low_m_s2: FloatArray
    acc_high_m_s2: FloatArray
    jolt_m_s: FloatArray
    longest_step_s: FloatArray


@dataclass(frozen=True, eq=False, slots=True)
class PaddedFrames:
    """Frames as rows of equal length: sample 0 closes the frame before, spare places repeat the last sample.

    Attributes:
        time_s: shape (f, m); acc_m_s2, gyr_rad_s: shape (f, m, 3); samples: real samples after the first, (f,).
    """

    time_s: FloatArray
    acc_m_s2: FloatArray
    gyr_rad_s: FloatArray
    samples: IntArray


def frame_ends(time_s: FloatArray, frame_s: float) -> IntArray:
    """Indices of closing samples, the first (index 0) being the one that closed the frame before."""
    ends = [0]
    while True:
        after = max(int(np.searchsorted(time_s, time_s[ends[-1]] + frame_s)), ends[-1] + 1)
        if after >= len(time_s):
            return np.array(ends, dtype=np.int64)
        ends.append(after)


def padded(time_s: FloatArray, acc: FloatArray, gyr: FloatArray, ends: IntArray) -> PaddedFrames:
    """Rows of frames from consecutive samples and their closing indices."""
    counts = np.diff(ends)
    index = ends[:-1, None] + np.minimum(np.arange(int(counts.max()) + 1), counts[:, None])
    return PaddedFrames(time_s[index], acc[index], gyr[index], counts)


def statistics(frames: PaddedFrames) -> FrameStatistics:
    """Means and spreads of each frame over its own samples."""
    real = np.arange(1, frames.time_s.shape[1]) <= frames.samples[:, None]
    mean_acc, acc_variance = _moments(frames.acc_m_s2[:, 1:], real, frames.samples)
    mean_gyr, gyr_variance = _moments(frames.gyr_rad_s[:, 1:], real, frames.samples)
    x, y, z = (frames.acc_m_s2[:, 1:, axis] - frames.acc_m_s2[:, :-1, axis] for axis in range(3))
    steps = frames.time_s[:, 1:] - frames.time_s[:, :-1]
    missed = np.maximum(
        np.sqrt(x * x + y * y + z * z) * np.minimum(steps, _SLOWEST_S) - _SMOOTH_STEP_M_S, 0.0
    )
    missed *= (np.minimum(steps, _SLOWEST_S) / _SEES_SHOCKS_S) ** 2
    end = frames.time_s[:, -1]
    return FrameStatistics(
        end,
        end - frames.time_s[:, 0],
        frames.samples,
        mean_acc,
        mean_gyr,
        acc_variance,
        gyr_variance,
        frames.acc_m_s2[:, 1:].min(axis=1),
        frames.acc_m_s2[:, 1:].max(axis=1),
        np.sqrt(np.cumsum(missed * missed, axis=1)[:, -1]),
        steps.max(axis=1),
    )


def _moments(values: FloatArray, real: NDArray[np.bool_], count: IntArray) -> tuple[FloatArray, FloatArray]:
    """Mean (f, 3) and variance summed over axes (f,) of the real samples of each row."""
    weighed = np.where(real[..., None], values, 0.0)
    mean = np.cumsum(weighed, axis=1)[:, -1] / count[:, None]
    off = np.where(real[..., None], values - mean[:, None], 0.0)
    square = np.cumsum(off * off, axis=1)[:, -1]
    return mean, (square[:, 0] + square[:, 1] + square[:, 2]) / count


def turned_within(frames: PaddedFrames, gyr_bias: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Specific force turned into each frame's first attitude (f, m, 3), and the frame's whole turn as a rotation
    vector (f, 3), with coning to second order.

    Args:
        frames: rows of samples.
        gyr_bias: bias to take off, one a frame, shape (f, 3), rad/s.
    """
    step = np.diff(frames.time_s, axis=1)[..., None]
    step = np.where(step > _LONGEST_TURN_S, 0.0, step)
    rate = frames.gyr_rad_s - gyr_bias[:, None]
    turn = 0.5 * (rate[:, 1:] + rate[:, :-1]) * step
    angle = np.cumsum(turn, axis=1)
    coning = 0.5 * np.cumsum(_cross(angle - turn, turn), axis=1)
    angle = np.concatenate([np.zeros_like(angle[:, :1]), angle + coning], axis=1)
    square = angle[..., 0] ** 2 + angle[..., 1] ** 2 + angle[..., 2] ** 2
    once = _cross(angle, frames.acc_m_s2)
    twice = _cross(angle, once)
    return frames.acc_m_s2 + sine_part(square)[..., None] * once + cosine_part(square)[
        ..., None
    ] * twice, angle[:, -1]


def integrals(time_s: FloatArray, force: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Single and double integral of each frame's force over the frame, shapes (f, 3)."""
    step = np.diff(time_s, axis=1)[..., None]
    mean = 0.5 * (force[:, 1:] + force[:, :-1])
    single = np.cumsum(mean * step, axis=1)
    before = single - mean * step
    inner = step * step * (2 * force[:, :-1] + force[:, 1:]) / 6
    double = np.cumsum(before * step + inner, axis=1)[:, -1]
    return single[:, -1], double


def sine_part(square: FloatArray) -> FloatArray:
    """sin(a)/a from a squared, by its series: the same bits however many at once."""
    x = square
    return 1 - x / 6 * (1 - x / 20 * (1 - x / 42 * (1 - x / 72 * (1 - x / 110))))


def cosine_part(square: FloatArray) -> FloatArray:
    """(1 - cos a)/a^2 from a squared, by its series."""
    x = square
    return 0.5 - x / 24 * (1 - x / 30 * (1 - x / 56 * (1 - x / 90 * (1 - x / 132))))


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    """Cross product along the last axis, element by element."""
    return np.stack(
        [
            a[..., 1] * b[..., 2] - a[..., 2] * b[..., 1],
            a[..., 2] * b[..., 0] - a[..., 0] * b[..., 2],
            a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0],
        ],
        axis=-1,
    )
