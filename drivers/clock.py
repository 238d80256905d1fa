"""Sample times recovered from the sample counter and the arrival times of the packets.

A sensor's true rate differs by several percent from the nominal one, and packets arrive late by anything from
milliseconds to seconds. The counter is exact, so time is the counter times the recovered interval. Corrections of the
interval are slewed, so that the spacing of the samples stays smooth. Where the sensor stamps its samples itself, its
stamps take the place of the arrival times.

Nothing here depends on how samples are cut into blocks: the clock learns from a packet only when the next one begins.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from drivers.rate_line import RateLine
from drivers.samples import SampleBlock, TimedBlock, joined

HOLD_BACK_S = 1.5
_HOLD_BACK_PACKETS = 4
_SMOOTH_S = 0.5  # time constant with which the spacing follows the recovered interval
_PHASE_S = 3.0  # time constant with which accumulated error is worked off
_PHASE_LIMIT = 0.003  # the most that may change the spacing
_LONG_GAP_S = 0.5  # over a hole as long as this the interval is taken as it is
_DOUBTFUL_HOLE_S = (
    0.25  # a hole as long as this may be a lost connection: its length by the counter is not relied on
)


class ClockError(Exception):
    """The samples do not tell their own rate."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """A straight piece of the clock: sample `seq` is at `start_s`, the following ones `interval_s` apart."""

    start_s: float
    seq: int
    interval_s: float

    def time_s(self, seq: int) -> float:
        return self.start_s + (seq - self.seq) * self.interval_s


class SampleClock:
    """Gives samples their times: seconds since the first sample, strictly increasing.

    The first 1.5 s are held back until the rate is known, then everything is passed on at once.

    Args:
        nominal_rate_hz: the rate the profile states; used only where too little arrived to recover the true one.
            None (a recording): the rate is unknown.
    """

    def __init__(self, nominal_rate_hz: float | None = None) -> None:
        self._nominal_rate_hz = nominal_rate_hz
        self._line = RateLine()
        self._held: list[SampleBlock] = []
        self._piece: _Piece | None = None  # None while samples are held back
        self._packets = 0
        self._first_seq = 0
        self._first_arrival_s = 0.0
        self._line_start_s = 0.0  # where the line puts the first sample, on the arrival clock
        self._breaks = 0
        # the packet being read: when it reached the host, its last sample so far and when that was stamped
        self._host_time_s = math.nan
        self._packet_seq = 0
        self._last_seq: int | None = None
        self._last_stamp_s = 0.0
        self._anew = False  # the time between it and the packet before is not known by the counter

    @property
    def rate_hz(self) -> float | None:
        """The recovered sample rate, Hz; the nominal one (or None) before any is recovered."""
        interval_s = self._line.interval_s
        return self._nominal_rate_hz if interval_s is None else 1.0 / interval_s

    @property
    def sure(self) -> bool:
        """Whether the rate rests on ten seconds or more (then it is within 0.1 % under ordinary jitter)."""
        return self._line.sure

    def time(self, block: SampleBlock) -> TimedBlock:
        """Times for the samples of a block, and for those held back before it.

        Args:
            block: the next samples, counter strictly increasing; cut anywhere.

        Raises:
            ValueError: when the counter does not increase.
        """
        if not len(block):
            return _timed(block, [], [])
        if np.any(np.diff(block.seq) <= 0) or (self._last_seq is not None and block.seq[0] <= self._last_seq):
            raise ValueError("the sample counter must increase from sample to sample")
        cuts = [0, *(np.flatnonzero(np.diff(block.host_time_s)) + 1).tolist(), len(block)]
        maybe_pieces = [self._read(block, start, stop) for start, stop in pairwise(cuts)]
        counts = [stop - start for start, stop in pairwise(cuts)]
        if self._piece is None:
            self._held.append(block)
            return _timed(block.slice(0, 0), [], [])
        first = next(piece for piece in maybe_pieces if piece is not None)
        pieces = [piece or first for piece in maybe_pieces]
        if self._held:
            pieces.insert(0, first)
            counts.insert(0, sum(map(len, self._held)))
            block = joined([*self._held, block])
            self._held = []
        return _timed(block, pieces, counts)

    def finish(self) -> TimedBlock:
        """The samples still held back when a stream ends before its rate was known; empty when there are none.

        Raises:
            ClockError: when all of them arrived at once and no nominal rate is known.
        """
        if not self._held or self._last_seq is None:
            return TimedBlock(np.empty(0), np.empty(0, dtype=np.int64), np.empty((0, 3)))
        self._line.add(self._last_seq, self._last_stamp_s, anew=self._anew)
        self._line.fit()
        rate_hz = self.rate_hz
        if rate_hz is None:
            raise ClockError(
                "Too few packets to recover the sample rate: at least two arrival times are needed."
            )
        block = joined(self._held)
        self._held = []
        self._piece = _Piece(0.0, self._first_seq, 1.0 / rate_hz)
        return _timed(block, [self._piece], [len(block)])

    def _read(self, block: SampleBlock, start: int, stop: int) -> _Piece | None:
        """Note the samples of one packet, or of a part of it, and say which piece of the clock they lie on."""
        host_time_s = float(block.host_time_s[start])
        if host_time_s != self._host_time_s:
            self._begin_packet(int(block.seq[start]), host_time_s, block.counts_anew and start == 0)
        stamps = block.host_time_s if block.device_time_s is None else block.device_time_s
        self._last_seq, self._last_stamp_s = int(block.seq[stop - 1]), float(stamps[stop - 1])
        return self._piece

    def _begin_packet(self, seq: int, host_time_s: float, counts_anew: bool) -> None:
        before_s, self._host_time_s = self._host_time_s, host_time_s
        first_seq, self._packet_seq = self._packet_seq, seq
        if self._last_seq is None:
            self._first_seq, self._first_arrival_s = seq, host_time_s
            return
        self._line.add(self._last_seq, self._last_stamp_s, anew=self._anew)
        missing, usual = seq - self._last_seq - 1, self._last_seq + 1 - first_seq
        self._anew = counts_anew or self._is_doubtful(missing, usual, host_time_s - before_s)
        self._packets += 1
        if self._piece is not None:
            self._piece = self._next_piece(self._piece, self._last_seq, seq)
        elif self._packets >= _HOLD_BACK_PACKETS and host_time_s - self._first_arrival_s >= HOLD_BACK_S:
            self._line.fit()
            if self._line.interval_s is not None:
                self._piece = _Piece(0.0, self._first_seq, self._line.interval_s)

    def _is_doubtful(self, missing: int, usual: int, silence_s: float) -> bool:
        """Whether so many missing samples are more than a few packets that the radio lost.

        Args:
            missing: samples by the counter, which may be wrong by some.
            usual: samples of the packet before.
            silence_s: since that arrived: the hole and a packet's own length.
        """
        rate_hz = self.rate_hz
        if rate_hz is None or missing == 0:
            return False
        return max(missing / rate_hz, silence_s - usual / rate_hz) > _DOUBTFUL_HOLE_S

    def _next_piece(self, piece: _Piece, last_seq: int, seq: int) -> _Piece:
        """Carry the clock on from the last sample to `seq`, the first of a new packet."""
        interval_s = self._line.interval_s
        assert interval_s is not None
        last_s = piece.time_s(last_seq)
        step = seq - last_seq
        if step * interval_s > _LONG_GAP_S:
            return _Piece(last_s + step * interval_s, seq, interval_s)
        wanted = interval_s * (1.0 + self._phase_correction(last_s, last_seq))
        spacing_s = piece.interval_s + (wanted - piece.interval_s) * -math.expm1(
            -step * interval_s / _SMOOTH_S
        )
        return _Piece(last_s + step * spacing_s, seq, spacing_s)

    def _phase_correction(self, time_s: float, seq: int) -> float:
        """By what share the spacing should change to bring the clock back onto the line."""
        if not self._line.settled:
            return 0.0
        if self._line.holds_start:
            self._line_start_s = self._line.position_s(self._first_seq)
        elif self._breaks != self._line.breaks:  # a new line: carry on from where the clock is
            self._breaks = self._line.breaks
            self._line_start_s = self._line.position_s(seq) - time_s
        behind_s = self._line.position_s(seq) - self._line_start_s - time_s
        return min(max(behind_s / _PHASE_S, -_PHASE_LIMIT), _PHASE_LIMIT)


def _timed(block: SampleBlock, pieces: list[_Piece], counts: list[int]) -> TimedBlock:
    seq = np.repeat(np.array([piece.seq for piece in pieces], dtype=np.int64), counts)
    start_s = np.repeat(np.array([piece.start_s for piece in pieces]), counts)
    interval_s = np.repeat(np.array([piece.interval_s for piece in pieces]), counts)
    return TimedBlock(start_s + (block.seq - seq) * interval_s, block.seq, block.acc_m_s2, block.gyr_rad_s)
