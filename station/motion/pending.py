"""Samples that wait to be taken in: for the end of their frame, and a little longer while the bar lies still.

Between sets nothing is decided for minutes. Several packets taken in together then cost little more than one; frames,
and all that is made of them, stay the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.samples import FloatArray
from station.motion.attitude import Stillness
from station.motion.estimate import FrameEstimate
from station.motion.intake import CleanSamples

_ROOM = 1024
_LIES_AFTER_S = 3.0  # a bar that is left alone: sooner, something may still be decided about what went before
_WAITS_S = 0.3
_MOVES_M_S2 = 0.5  # more than a jolt from a neighbouring rack, less than any lift begins with


class Pending:
    """Samples not yet in a closed frame, beginning with the one that closed the last."""

    def __init__(self) -> None:
        self._held = np.empty((9, _ROOM))
        self._first = self._stop = 0

    def add(self, clean: CleanSamples) -> None:
        """Append clean samples."""
        count = len(clean.time_s)
        if self._stop + count > self._held.shape[1]:
            self._make_room(count)
        part = self._held[:, self._stop : self._stop + count]
        part[0], part[1:4], part[4:7] = clean.time_s, clean.acc_m_s2.T, clean.gyr_rad_s.T
        part[7], part[8] = clean.with_gyro, clean.clipped
        self._stop += count

    def drop(self, count: int) -> None:
        """Forget the first `count` samples."""
        self._first += count

    @property
    def time_s(self) -> FloatArray:
        """Shape (n,)."""
        return self._held[0, self._first : self._stop]

    @property
    def acc_m_s2(self) -> FloatArray:
        """As measured, shape (n, 3)."""
        return self._held[1:4, self._first : self._stop].T

    @property
    def gyr_rad_s(self) -> FloatArray:
        """Shape (n, 3)."""
        return self._held[4:7, self._first : self._stop].T

    @property
    def with_gyro(self) -> NDArray[np.bool_]:
        """Whether each sample has rotation, shape (n,)."""
        return self._held[7, self._first : self._stop] > 0

    @property
    def clipped(self) -> NDArray[np.bool_]:
        """Whether each sample is at the range limit, shape (n,)."""
        return self._held[8, self._first : self._stop] > 0

    def _make_room(self, incoming: int) -> None:
        kept = self._held[:, self._first : self._stop]
        count = kept.shape[1]
        held = np.empty((9, max(_ROOM, 2 * (count + incoming))))
        held[:, :count] = kept
        self._held, self._first, self._stop = held, 0, count


@dataclass
class LyingBar:
    """Tells whether a bar has been left alone and still lies there, so that its samples may wait."""

    _alone_s: float = 0.0

    def follow(self, estimate: FrameEstimate) -> None:
        """One more frame."""
        alone = estimate.stillness == Stillness.ALONE
        self._alone_s = self._alone_s + estimate.duration_s if alone else 0.0

    def may_wait(self, pending: Pending) -> bool:
        """Whether the samples that wait are few, and nothing moves in them."""
        if self._alone_s < _LIES_AFTER_S:
            return False
        time, acc = pending.time_s, pending.acc_m_s2
        few: bool = time[-1] - time[0] < _WAITS_S
        return few and bool(np.abs(acc - acc[0]).max() < _MOVES_M_S2)
