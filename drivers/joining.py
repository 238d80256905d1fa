"""Samples that come in two halves: acceleration on one characteristic, rotation on another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivers.samples import FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class Part:
    """Samples of one packet: counter, the sensor's own stamps, arrival, and the axes side by side."""

    seq: IntArray
    device_time_s: FloatArray | None
    host_time_s: float
    axes: FloatArray
    counts_anew: bool = False

    def rows(self, rows: IntArray) -> Part:
        """Some of the samples."""
        device = None if self.device_time_s is None else self.device_time_s[rows]
        return Part(self.seq[rows], device, self.host_time_s, self.axes[rows], self.counts_anew)

    def then(self, later: Part) -> Part:
        """These samples and later ones."""
        device = None
        if self.device_time_s is not None and later.device_time_s is not None:
            device = np.concatenate([self.device_time_s, later.device_time_s])
        return Part(
            np.concatenate([self.seq, later.seq]),
            device,
            later.host_time_s,
            np.concatenate([self.axes, later.axes]),
            self.counts_anew or later.counts_anew,
        )


class Joiner:
    """Puts two halves with the same counter together. A half whose other half was lost is dropped.

    Args:
        limit: samples that wait for their other half at most.
    """

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._waiting: list[Part | None] = [None, None]
        self._next_seq: int | None = None
        self.samples = 0
        self.lost_samples = 0

    def add(self, which: int, part: Part) -> Part | None:
        """Take in a packet of half 0 or 1; the samples that are whole now, or None."""
        before = self._waiting[which]
        self._waiting[which] = part if before is None else before.then(part)
        first, second = self._waiting
        if first is None or second is None:
            self._keep(-1)
            return None
        seq, rows, other_rows = np.intersect1d(first.seq, second.seq, assume_unique=True, return_indices=True)
        self._keep(int(seq[-1]) if len(seq) else -1)
        if not len(seq):
            return None
        if self._next_seq is not None:
            self.lost_samples += int(seq[-1]) + 1 - self._next_seq - len(seq)
        self.samples += len(seq)
        self._next_seq = int(seq[-1]) + 1
        whole, other = first.rows(rows), second.rows(other_rows)
        device = whole.device_time_s if whole.device_time_s is not None else other.device_time_s
        anew = whole.counts_anew or other.counts_anew
        return Part(seq, device, part.host_time_s, np.hstack([whole.axes, other.axes]), anew)

    def _keep(self, after_seq: int) -> None:
        for which, part in enumerate(self._waiting):
            if part is not None:
                later = np.flatnonzero(part.seq > after_seq)[-self._limit :]
                self._waiting[which] = part.rows(later) if len(later) else None
