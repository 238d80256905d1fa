"""How long a sensor's battery will last: by what it used while it streamed, else by what such sensors use."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

# A general-purpose six-axis sensor with a 100 mAh cell streams for some eight hours. An assumption, said as such.
COMMON_DRAIN_PER_H = 12.0
# Levels are whole percents: over less time or fewer steps a drain says little.
LEAST_TIME = timedelta(minutes=20)
LEAST_DROP = 2


@dataclass(slots=True)
class BatteryWatch:
    """Levels of one sensor while it streams; another sensor, or a charged one, begins anew."""

    _sensor: str = ""
    _first: tuple[int, datetime] | None = None
    _drain_per_h: float | None = field(default=None)

    def read(self, sensor: str, percent: int, at: datetime) -> None:
        """A level, read while streaming."""
        if sensor != self._sensor or self._first is None or percent > self._first[0]:
            self._sensor, self._first, self._drain_per_h = sensor, (percent, at), None
            return
        used, time = self._first[0] - percent, at - self._first[1]
        if used >= LEAST_DROP and time >= LEAST_TIME:
            self._drain_per_h = used / (time / timedelta(hours=1))

    def hours_left(self, percent: int | None) -> tuple[float | None, bool]:
        """Hours of streaming left, and whether they rest on what this sensor was seen to use; None: level unknown."""
        if percent is None:
            return None, False
        if self._drain_per_h is not None:
            return round(percent / self._drain_per_h, 1), True
        return round(percent / COMMON_DRAIN_PER_H, 1), False
