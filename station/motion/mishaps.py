"""A sensor that falls, or slips round the bar: noticed from force and turning, frame by frame."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from math import sqrt

from station.motion.events import Placement, Trouble
from station.motion.frames import Three

_FALLING_M_S2 = 3.0
_SHORTEST_FALL_S = 0.3
_TUMBLED_RAD = {"bar": 0.7, "belt": 3.0}  # a dropped bar hardly turns, a jumper neither
_SLIP_RAD = 0.9
_SLIP_WITHIN_S = 0.3
_REPEAT_AFTER_S = 10.0

_FELL = "The sensor fell, or the bar was dropped. Check that the sensor sits tight; what follows is measured afresh."
_SLIPPED = (
    "The sensor turned suddenly: it may have slipped round the bar or been knocked. Check that it sits tight."
)


@dataclass
class MishapWatch:
    """Watches one sensor. `turns_fast`: the bar itself may turn quickly (a clean)."""

    placement: Placement
    turns_fast: bool = False
    _fall_s: float = 0.0
    _tumbled_rad: float = 0.0
    _blind: bool = False
    _recent: deque[tuple[float, Three]] = field(default_factory=deque)
    _slip_said_s: float = float("-inf")

    def follow(
        self, end_s: float, duration_s: float, force_m_s2: float, turn_rad: Three, with_gyro: bool
    ) -> Trouble | None:
        """One more frame: size of its mean force, its turn in the inertial frame."""
        x, y, z = turn_rad
        if force_m_s2 < _FALLING_M_S2:
            self._fall_s += duration_s
            self._tumbled_rad += sqrt(x * x + y * y + z * z)
            self._blind = self._blind or not with_gyro
            return None
        fell = self._fall_s >= _SHORTEST_FALL_S and self._tumbled()
        self._fall_s, self._tumbled_rad, self._blind = 0.0, 0.0, False
        if fell:
            return Trouble("sensor_fell", end_s, _FELL)
        return self._slipped(end_s, (x, y, z))

    def _tumbled(self) -> bool:
        """Whether what fell was the sensor; without a gyro a bar's sensor is believed to have fallen."""
        if self._blind:
            return self.placement == "bar"
        return self._tumbled_rad > _TUMBLED_RAD[self.placement]

    def _slipped(self, end_s: float, turn: Three) -> Trouble | None:
        if self.placement == "belt":
            return None
        self._recent.append((end_s, turn))
        while self._recent[0][0] < end_s - _SLIP_WITHIN_S:
            self._recent.popleft()
        x = y = z = 0.0
        for _, (dx, dy, dz) in self._recent:
            x, y, z = x + dx, y + dy, z + dz
        limit = 2 * _SLIP_RAD if self.turns_fast else _SLIP_RAD
        if x * x + y * y + z * z < limit**2 or end_s - self._slip_said_s < _REPEAT_AFTER_S:
            return None
        self._slip_said_s = end_s
        return Trouble("sensor_slipped", end_s, _SLIPPED)
