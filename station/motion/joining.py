"""Frames of a bar that has lain still for long are taken together, ten as one.

Between sets nothing is decided for minutes, and an engine spends its time frame by frame. Which frames are joined
depends on their samples and on how still it was before, never on how the samples came in. One more frame has to be as
calm as those that are joined: a bar's first movement falls into frames of the usual length.
"""

from __future__ import annotations

from math import dist
from operator import lt

from station.motion.clipping import AtLimit
from station.motion.frames import FrameStatistics

JOINED_FRAMES = 10
LIES_AFTER_S = 3.0  # a bar that is left alone: sooner, something may still be decided about what went before
_CALM_M_S2 = 0.15  # of each sample about the mean of the frame before: no lift begins so gently
_CALM_RAD_S = 0.006  # spread of a frame's rate, and of its mean about that of the frame before
_EVEN = 2.0  # steps between samples, by the usual one


def calm_frames(
    seen: FrameStatistics,
    first: int,
    before: tuple[float, ...],
    with_gyro: list[bool],
    clipped: list[AtLimit],
) -> int:
    """How many frames from `first` on, up to one more than are joined, are as calm as a lying bar's.

    Args:
        seen: frames of the usual length.
        first: row of the first.
        before: mean force and rate of the frame before it, six numbers.
        with_gyro, clipped: whether each frame has rotation; what is at the range's limit.
    """
    low, high = [f - _CALM_M_S2 for f in before[:3]], [f + _CALM_M_S2 for f in before[:3]]
    stop = min(first + JOINED_FRAMES + 1, len(seen.samples))
    for row in range(first, stop):
        if not with_gyro[row] or clipped[row].samples or not _lies(seen, row, low, high, before[3:]):
            return row - first
    return stop - first


def _lies(
    seen: FrameStatistics, row: int, low: list[float], high: list[float], rate: tuple[float, ...]
) -> bool:
    """Whether a frame's forces are within limits, and it turns neither by itself nor otherwise than before."""
    if seen.longest_step_s[row] * seen.samples[row] > _EVEN * seen.duration_s[row]:
        return False
    return (
        seen.gyr_variance[row] < _CALM_RAD_S**2
        and all(map(lt, low, seen.acc_low_m_s2[row]))
        and all(map(lt, seen.acc_high_m_s2[row], high))
        and dist(seen.means[row][3:], rate) < _CALM_RAD_S
    )
