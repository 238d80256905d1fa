"""Samples taken together into frames of about 0.04 s, turned into one slowly drifting inertial frame.

A frame closes at the first sample at least `frame_s` after the last frame's closing sample, so frames do not depend
on how the samples were handed over. Rotation comes from the gyro alone; what is left of its bias makes the inertial
frame drift, which the tilt estimate follows. Only element-wise arithmetic and running sums are used, so that taking
many frames at once gives the same bits as taking them one by one. Most packets close one frame: the number of array
operations counts, not their size, so axes come first and are handled together.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from itertools import accumulate
from math import factorial

import numpy as np

from drivers.samples import FloatArray, IntArray

_SMOOTH_STEP_M_S = 0.04  # a force step between two samples, times the time between them: more is a shock
_SEES_SHOCKS_S = (
    0.005  # steel rings at 30 to 90 Hz: samples this far apart follow it, others the less the further
)
_SLOWEST_S = 0.02  # samples further apart than this have a hole between them, which is another matter
_LONGEST_TURN_S = 0.5  # over a longer hole the turn is not known, and not guessed
_XYZ = np.array([0, 1, 2] * 3)
_ACC_GYR = np.concatenate([1 + _XYZ, 4 + _XYZ])
_SERIES = np.array([[(-1) ** k / factorial(2 * k + 1), (-1) ** k / factorial(2 * k + 2)] for k in range(6)])[
    :, :, None, None
]  # of the sine part and of the cosine part, power by power

Three = tuple[float, float, float]
"""A vector as plain numbers: where frames are looked at one by one they are several times faster than arrays."""


@dataclass(frozen=True, eq=False, slots=True)
class FrameStatistics:
    """What rest looks like, frame by frame, on the sensor's axes; plain numbers, for they are looked at one by one.

    Attributes:
        end_time_s, duration_s: of each frame.
        samples: samples per frame.
        means: of force and of rate, six a frame.
        acc_variance, gyr_variance: summed over axes.
        acc_low_m_s2, acc_high_m_s2: smallest and largest value of each axis.
        jolt_m_s: what samples this far apart may have missed of shocks: force steps times the time between samples,
            beyond 0.04 m/s, the more the further apart these are; root of the sum of squares.
        longest_step_s: longest time between two samples of the frame.
    """

    end_time_s: list[float]
    duration_s: list[float]
    samples: list[int]
    means: list[list[float]]
    acc_variance: list[float]
    gyr_variance: list[float]
    acc_low_m_s2: list[list[float]]
    acc_high_m_s2: list[list[float]]
    jolt_m_s: list[float]
    longest_step_s: list[float]


@dataclass(frozen=True, eq=False, slots=True)
class PaddedFrames:
    """Frames as rows of equal length: sample 0 closes the frame before, spare places repeat the last sample.

    Attributes:
        time_s: shape (f, m).
        step_s: from each sample to the next, shape (f, m - 1).
        acc_m_s2, gyr_rad_s: x, y, z three times over, shape (9, f, m): what `_cross` wants.
        samples: real samples after the first, shape (f,).
        row: time, force and rate of the same samples in one row, without padding, shape (7, n).
        starts: place of each frame's first sample in `row`, the one that closes the frame before, shape (f,).
    """

    time_s: FloatArray
    step_s: FloatArray
    acc_m_s2: FloatArray
    gyr_rad_s: FloatArray
    samples: IntArray
    row: FloatArray
    starts: IntArray


def frame_ends(time_s: FloatArray, frame_s: float) -> IntArray:
    """Indices of closing samples, the first (index 0) being the one that closed the frame before."""
    times = time_s.tolist()
    ends = [0]
    if not times:
        return np.array(ends)
    while True:
        after = bisect_left(times, times[ends[-1]] + frame_s, ends[-1] + 1)
        if after >= len(times):
            return np.array(ends)
        ends.append(after)


def padded(time_s: FloatArray, acc: FloatArray, gyr: FloatArray, ends: IntArray) -> PaddedFrames:
    """Rows of frames from consecutive samples, force and rate of shape (n, 3), and their closing indices."""
    return in_rows(np.concatenate([time_s[None], acc.T, gyr.T]), ends)


def rejoined(frames: PaddedFrames, counts: list[int]) -> PaddedFrames:
    """The same samples in longer frames, each made of so many; without those that are left over."""
    ends = np.append(frames.starts, frames.row.shape[1] - 1)[[*accumulate(counts, initial=0)]]
    return in_rows(frames.row, ends)


def in_rows(samples: FloatArray, ends: IntArray) -> PaddedFrames:
    """Rows of frames from consecutive samples (time, force and rate, shape (7, n)) and their closing indices."""
    first, last = ends.item(0), ends.item(-1)
    row = samples[:, first : last + 1]
    starts, counts = ends[:-1] - first, ends[1:] - ends[:-1]
    if len(starts) == 1:  # a packet's usual one
        rows = row[:, None]
    else:
        places = starts[:, None] + np.minimum(np.arange(max(counts.tolist()) + 1), counts[:, None])
        rows = row.take(places, axis=1)
    time, vectors = rows[0], rows.take(_ACC_GYR, axis=0)
    return PaddedFrames(time, time[:, 1:] - time[:, :-1], vectors[:9], vectors[9:], counts, row, starts)


def statistics(frames: PaddedFrames) -> FrameStatistics:
    """Means and spreads of each frame over its own samples."""
    row, starts, count = frames.row, frames.starts, frames.samples
    values = row[1:, 1:]  # so that a frame's own samples begin at its place in `starts`
    mean = np.add.reduceat(values, starts, axis=1) / count
    off = values - (mean if len(starts) == 1 else mean.repeat(count, axis=1))
    off *= off
    square = np.add.reduceat(off, starts, axis=1)
    step = row[0, 1:] - row[0, :-1]
    longest = np.maximum.reduceat(step, starts).tolist()
    end, samples = frames.time_s[:, -1], count.tolist()
    return FrameStatistics(
        end.tolist(),
        (end - frames.time_s[:, 0]).tolist(),
        samples,
        mean.T.tolist(),
        *_summed_over_axes(square.T.tolist(), samples),
        np.minimum.reduceat(values[:3], starts, axis=1).T.tolist(),
        np.maximum.reduceat(values[:3], starts, axis=1).T.tolist(),
        _jolts(row[1:4], step, longest, starts),
        longest,
    )


def _summed_over_axes(square: list[list[float]], samples: list[int]) -> tuple[list[float], list[float]]:
    """Variance of force and of rate, frame by frame, from six sums of squares each."""
    force, rate = [], []
    for (ax, ay, az, gx, gy, gz), n in zip(square, samples, strict=True):
        force.append((ax + ay + az) / n)
        rate.append((gx + gy + gz) / n)
    return force, rate


def _jolts(acc: FloatArray, step: FloatArray, longest_s: list[float], starts: IntArray) -> list[float]:
    """What each frame's samples may have missed of shocks, m/s.

    Args:
        acc, step: force, shape (3, n), and the times between samples, (n - 1,).
        longest_s, starts: the longest of these in each frame, and where its samples begin.
    """
    change = acc[:, 1:] - acc[:, :-1]
    longest = min(max(longest_s), _SLOWEST_S)
    if (
        np.vdot(change, change) * longest**2 < 0.9 * _SMOOTH_STEP_M_S**2
    ):  # no step is larger than all together
        return [0.0] * len(starts)
    change *= change
    followed = np.minimum(step, _SLOWEST_S)
    missed = np.sqrt(change[0] + change[1] + change[2]) * followed - _SMOOTH_STEP_M_S
    if missed.max() <= 0.0:
        return [0.0] * len(starts)
    missed = np.maximum(missed, 0.0) * (followed / _SEES_SHOCKS_S) ** 2
    jolts: list[float] = np.sqrt(np.add.reduceat(missed * missed, starts)).tolist()
    return jolts


def turned_within(frames: PaddedFrames, gyr_bias: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Specific force turned into each frame's first attitude (3, f, m), and the frame's whole turn as a rotation
    vector (f, 3), with coning to second order.

    Args:
        frames: rows of samples.
        gyr_bias: bias to take off, one a frame, shape (f, 3), rad/s.
    """
    step = frames.step_s * (frames.step_s <= _LONGEST_TURN_S)
    rate = frames.gyr_rad_s - gyr_bias.T.take(_XYZ, axis=0)[:, :, None]
    turn = (rate[:, :, 1:] + rate[:, :, :-1]) * (0.5 * step)
    sums = np.add.accumulate(turn, axis=2)
    coning = np.add.accumulate(_cross(sums - turn, turn), axis=2)
    angle = np.zeros((len(coning), *frames.time_s.shape))
    np.add(sums[:-2], 0.5 * coning, out=angle[:, :, 1:])
    once = _cross(angle, frames.acc_m_s2[:-2])
    twice = _cross(angle[:-2], once)
    angle = angle[:3]
    sine, cosine = _rotation_parts(angle[0] * angle[0] + angle[1] * angle[1] + angle[2] * angle[2])
    return frames.acc_m_s2[:3] + sine * once[:3] + cosine * twice, angle[:, :, -1].T


def integrals(time_s: FloatArray, force: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Single and double integral of each frame's force (3, f, m) over the frame, shapes (f, 3)."""
    step = time_s[:, 1:] - time_s[:, :-1]
    before, after = force[:, :, :-1], force[:, :, 1:]
    both = before + after
    gained = both * (0.5 * step)
    single = np.add.accumulate(gained, axis=2)
    inner = (2 * before + after) * (step * step / 6)
    double = np.add.accumulate((single - gained) * step + inner, axis=2)
    return single[:, :, -1].T, double[:, :, -1].T


def _rotation_parts(square: FloatArray) -> FloatArray:
    """sin(a)/a and (1 - cos a)/a^2 from a squared, shape (2, f, m), by their series: the same bits however many at
    once."""
    powers = np.ones((len(_SERIES), 1, *square.shape))
    powers[1:] = square
    np.multiply.accumulate(powers, axis=0, out=powers)
    parts: FloatArray = np.add.reduce(_SERIES * powers, axis=0)
    return parts


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    """Cross product along the first axis of x, y, z, x, y, ...; the product begins with x again, two rows less."""
    product: FloatArray = a[1:-1] * b[2:] - a[2:] * b[1:-1]
    return product
