"""Samples that wait to be taken in: for the end of their frame, and a little longer while nothing can be decided.

Between sets nothing is decided for minutes, and no rep ends while the bar comes down. Several packets taken in
together cost little more than one; frames, and all that is made of them, stay the same.
"""

from __future__ import annotations

from math import dist, inf

import numpy as np

from drivers.samples import FloatArray, IntArray, TimedBlock, joined
from station.motion.attitude import Stillness
from station.motion.clipping import AtLimit, fill_in
from station.motion.frame_estimate import FrameEstimate
from station.motion.intake import CleanSamples
from station.motion.joining import LIES_AFTER_S

_ROOM = 1024
_CLIPPED, _DOUBT, _ROWS = slice(8, 11), 11, 12
_SEEN_BEFORE = 2  # samples before those at the limit, for the slope
_NONE = AtLimit(0, 0.0)
_WAITS_LYING_S = 1.0  # two joined frames: what a lying bar brings about is told so much later at most
_WAITS_S = 0.07  # two packets of ten samples at 200 Hz; one of ten at 100 Hz need not wait
_MOVES_M_S2 = 0.5  # more than a jolt from a neighbouring rack, less than any lift begins with


class Pending:
    """Samples not yet in a closed frame, beginning with the one that closed the last."""

    def __init__(self) -> None:
        self._held = np.empty((_ROWS, _ROOM))
        self._first = self._settled = self._stop = self._clipped_until = 0

    def add(self, clean: CleanSamples, acc_m_s2: FloatArray) -> None:
        """Append clean samples, with their force as corrected, shape (n, 3)."""
        count = len(clean.time_s)
        if self._stop + count > self._held.shape[1]:
            self._make_room(count)
        part = self._held[:, self._stop : self._stop + count]
        part[0], part[1:4], part[4:7], part[7] = clean.time_s, acc_m_s2.T, clean.gyr_rad_s.T, clean.with_gyro
        self._stop += count
        part[_CLIPPED] = 0.0 if clean.clipped is None else clean.clipped.T
        part[_DOUBT] = 0.0
        if clean.clipped is None and self._settled == self._stop - count:  # as nearly always
            self._settled = self._stop
        else:
            self._clipped_until = self._stop
            self._fill_in()

    def drop(self, count: int) -> None:
        """Forget the first `count` samples."""
        self._first += count

    @property
    def time_s(self) -> FloatArray:
        """Shape (n,)."""
        return self._held[0, self._first : self._settled]

    @property
    def known_until_s(self) -> float:
        """Time of the last sample, if more has to be known of the ones after it; else no limit."""
        if self._settled == self._stop:
            return inf
        return self._held.item(0, self._settled - 1) if self._settled else -inf

    @property
    def rows(self) -> FloatArray:
        """Time, force and rate on three axes each, and whether there is a rate, shape (8, n)."""
        return self._held[:8, self._first : self._settled]

    def clipped_in(self, ends: IntArray) -> list[AtLimit]:
        """What is at the range's limit in each of the frames with these closing samples."""
        if self._clipped_until <= self._first:  # as nearly always
            return [_NONE] * (len(ends) - 1)
        held = self._held[:, self._first : self._first + ends[-1] + 1]
        clipped = held[_CLIPPED, 1:].any(axis=0)
        missed = held[_DOUBT, 1:] * np.diff(held[0])
        counts = np.add.reduceat(clipped, ends[:-1], dtype=np.int64).tolist()
        return [*map(AtLimit, counts, np.add.reduceat(missed, ends[:-1]).tolist())]

    def _fill_in(self) -> None:
        """Put in what samples at the range's limit miss; those of which more has to be known are not settled yet."""
        first = max(self._settled - _SEEN_BEFORE, 0)
        held = self._held[:, first : self._stop]
        clipped, settled = held[_CLIPPED] > 0, self._settled - first
        self._settled = first + fill_in(held[0], held[1:4], clipped, held[_DOUBT], settled)

    def _make_room(self, incoming: int) -> None:
        dropped = max(self._first - _SEEN_BEFORE, 0)
        kept = self._held[:, dropped : self._stop]
        count = kept.shape[1]
        held = np.empty((_ROWS, max(_ROOM, 2 * (count + incoming))))
        held[:, :count] = kept
        self._held, self._stop = held, count
        self._first -= dropped
        self._settled -= dropped
        self._clipped_until -= dropped


class HeldPackets:
    """Packets that wait for the next ones while nothing is decided by them: looked at together they cost less.

    Beside a bar that has been left alone and lies there they wait for up to a second; while one that is held does not
    rise, so that no rep can be at its end, for the next packet.
    """

    def __init__(self) -> None:
        self._alone_s = 0.0
        self._may_decide = False
        self._waiting: list[TimedBlock] = []

    def follow(self, estimate: FrameEstimate, *, may_decide: bool) -> None:
        """One more frame, and whether the next ones may decide something."""
        alone = estimate.stillness == Stillness.ALONE
        self._alone_s = self._alone_s + estimate.duration_s if alone else 0.0
        self._may_decide = may_decide

    def take(self, block: TimedBlock) -> list[TimedBlock]:
        """A packet comes in; what is to be looked at now: nothing, while it can wait."""
        if self._may_decide:
            return [*self.let_go(), block]
        first = self._waiting[0] if self._waiting else block
        if (first.gyr_rad_s is None) != (block.gyr_rad_s is None):
            return [*self.let_go(), block]
        self._waiting.append(block)
        lies = self._alone_s >= LIES_AFTER_S and _near(block, first)
        # plain numbers: what is no time warns of nothing
        span_s = block.time_s.item(-1) - first.time_s.item(0)
        return [] if 0.0 <= span_s < (_WAITS_LYING_S if lies else _WAITS_S) else self.let_go()

    def let_go(self) -> list[TimedBlock]:
        """What waits, as one block; it waits no longer."""
        waiting, self._waiting = self._waiting, []
        return [joined(waiting)] if waiting else []


def _near(block: TimedBlock, first: TimedBlock) -> bool:
    """Whether nothing moves, by a packet's last sample: a lift lasts longer than a packet, and a knock can wait.

    What is no number is not near.
    """
    return dist(block.acc_m_s2[-1].tolist(), first.acc_m_s2[0].tolist()) < _MOVES_M_S2
