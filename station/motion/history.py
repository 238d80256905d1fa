"""The recent past the engine can look back on: frames and samples in arrays that forget their oldest part."""

from __future__ import annotations

import numpy as np

from drivers.samples import FloatArray

_KEEP_AT_LEAST = 64


class RecentRows:
    """Rows of floats, appended one or many at a time, addressed by a running index that never starts again."""

    def __init__(self, width: int, keep: int) -> None:
        self._keep = max(keep, _KEEP_AT_LEAST)
        self._rows = np.empty((2 * self._keep, width))
        self._used = 0
        self.dropped = 0

    def __len__(self) -> int:
        return self.dropped + self._used

    def append(self, rows: FloatArray) -> None:
        """Add rows, shape (n, width), dropping the oldest beyond what is kept."""
        if len(rows) > len(self._rows) - self._used:
            self._make_room(len(rows))
        self._rows[self._used : self._used + len(rows)] = rows
        self._used += len(rows)

    def view(self, first: int, stop: int) -> FloatArray:
        """Rows first..stop-1 by running index, shape (stop - first, width); the past that was dropped is left out."""
        return self._rows[max(first - self.dropped, 0) : max(stop - self.dropped, 0)]

    def _make_room(self, incoming: int) -> None:
        kept = min(self._keep, self._used)
        self.dropped += self._used - kept
        if kept + incoming > len(self._rows):
            larger = np.empty((2 * (kept + incoming), self._rows.shape[1]))
            larger[:kept] = self._rows[self._used - kept : self._used]
            self._rows = larger
        else:
            self._rows[:kept] = self._rows[self._used - kept : self._used].copy()
        self._used = kept
