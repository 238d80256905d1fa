"""A sensor whose rate changes, or that hangs: noticed from sample times and from frames."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from drivers.samples import FloatArray

_RATE_WINDOW = 64
_STUCK_AXIS_S = 2.0
_STUCK_ALL_S = 10.0
_ZERO_S = 0.5
_MOVES_M_S2 = 0.3
_MOVED_FRAMES = 25  # of 40 ms


@dataclass
class RateWatch:
    """Notices a sample interval that differs by over a fifth from what it was, twice running: a hole does so once."""

    _count: int = 0
    _from_s: float = 0.0
    _from_seq: int = 0
    _usual_s: float | None = None
    _doubted: bool = False

    def jumps(self, time: FloatArray, seq: NDArray[np.int64]) -> list[float]:
        """Times at which the rate was seen to have changed, given further samples."""
        found = []
        for i in range(-self._count % _RATE_WINDOW, len(time), _RATE_WINDOW):
            now_s, now_seq = float(time[i]), int(seq[i])
            counted = now_seq - self._from_seq
            if self._count + i > 0 and 0 < counted <= 2 * _RATE_WINDOW:
                interval = (now_s - self._from_s) / counted
                other = self._usual_s is not None and abs(interval / self._usual_s - 1) > 0.2
                if other and self._doubted:
                    found.append(now_s)
                self._doubted = other and not self._doubted
                if not self._doubted:
                    self._usual_s = interval
            self._from_s, self._from_seq = now_s, now_seq
        self._count += len(time)
        return found


@dataclass
class GyroWatch:
    """Notices a gyro that sends the same values, or none, while force says that the sensor moves.

    A coarse gyro repeats itself at rest, and at a knock that turns nothing: a second of movement is asked for.
    """

    hangs: bool = False
    _gyr: list[float] = field(default_factory=list)
    _acc: list[float] = field(default_factory=lambda: [0.0] * 3)
    _moved: int = 0

    def follow(self, gyr_rad_s: list[float], acc_m_s2: list[float]) -> bool:
        """The last sample of one more frame; whether the gyro was found to hang just now."""
        if gyr_rad_s != self._gyr:
            self._gyr, self._moved, self.hangs = gyr_rad_s, 0, False
        elif not self.hangs:
            off = max(abs(now - before) for now, before in zip(acc_m_s2, self._acc, strict=True))
            self._moved += off > _MOVES_M_S2
        self._acc = acc_m_s2
        if self.hangs or self._moved < _MOVED_FRAMES:
            return False
        self.hangs = True
        return True


@dataclass
class StuckWatch:
    """Notices zeros, and an axis that never changes while another one moves.

    A coarse sensor may well repeat itself at rest: that alone is no trouble until everything has hung for long.
    """

    _value: list[float] = field(default_factory=lambda: [0.0] * 3)
    _for_s: list[float] = field(default_factory=lambda: [0.0] * 3)
    _moved_by: list[float] = field(default_factory=lambda: [0.0] * 3)

    def judge(
        self, duration_s: float, low: list[float], high: list[float], range_m_s2: float | None
    ) -> str | None:
        """What is wrong after one more frame, if anything."""
        if low[0] != high[0] and low[1] != high[1] and low[2] != high[2]:  # as nearly always
            self._value, self._for_s, self._moved_by = [*high], [0.0] * 3, [0.0] * 3
            return None
        moving = max(high[i] - low[i] for i in range(3))
        for i in range(3):
            same = low[i] == high[i] and (low[i] == self._value[i] or self._for_s[i] == 0.0)
            self._for_s[i] = self._for_s[i] + duration_s if same else 0.0
            self._moved_by[i] = max(self._moved_by[i], moving) if same else 0.0
            self._value[i] = high[i]
        if min(self._for_s) > _ZERO_S and not any(self._value):
            return "zero"
        hanging = [i for i in range(3) if self._for_s[i] > _STUCK_AXIS_S]
        limit = np.inf if range_m_s2 is None else 0.99 * range_m_s2
        if any(abs(self._value[i]) >= limit for i in hanging):
            return "saturated"
        moved = any(self._moved_by[i] > 1.0 for i in hanging)
        return "stuck" if moved or min(self._for_s) > _STUCK_ALL_S else None
