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
        self.room(len(rows))[:] = rows
        self.grow(len(rows))

    def room(self, count: int) -> FloatArray:
        """Where the next rows will lie, shape (count, width), to be filled in before `grow` adds them."""
        if count > len(self._rows) - self._used:
            self._make_room(count)
        return self._rows[self._used : self._used + count]

    def grow(self, count: int) -> None:
        """Add so many rows out of the room that was asked for."""
        self._used += count

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
