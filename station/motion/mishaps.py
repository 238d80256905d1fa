"""A sensor that falls, or slips round the bar: noticed from force and turning, frame by frame.

Without a gyro a slip shows in the direction of the force, which stays near the upright while a bar is lifted.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from math import acos, sqrt

from station.motion.events import Placement, Trouble
from station.motion.frames import Three

_FALLING_M_S2 = 3.0
_SHORTEST_FALL_S = 0.3
_TUMBLED_RAD = {"bar": 0.7, "belt": 3.0}  # a dropped bar hardly turns, a jumper neither
_SLIP_RAD = 0.9
_SLIP_WITHIN_S = 0.3
_REPEAT_AFTER_S = 10.0
_MEAN_S = 0.32  # a force is averaged so long: ringing and most of a lift's own acceleration are gone
_BLIND_WITHIN_S = 0.8  # from the middle of the mean before a slip to the middle of the one after it

_FELL = "The sensor fell, or the bar was dropped. Check that the sensor sits tight; what follows is measured afresh."
_SLIPPED = (
    "The sensor turned suddenly: it may have slipped round the bar or been knocked. Check that it sits tight."
)


@dataclass
class ForceDirection:
    """How far the direction of the mean force has turned on the sensor's axes within a short while."""

    _recent: deque[tuple[float, Three]] = field(default_factory=deque)

    def turned_rad(self, end_s: float, felt_m_s2: Three) -> float:
        """One more frame; the angle between the mean forces of just now and before, 0 while too little is known."""
        recent = self._recent
        recent.append((end_s, felt_m_s2))
        while recent[0][0] <= end_s - _BLIND_WITHIN_S - _MEAN_S:
            recent.popleft()
        if recent[-1][0] - recent[0][0] < _BLIND_WITHIN_S:
            return 0.0
        now = _sum([felt for at, felt in recent if at > end_s - _MEAN_S])
        before = _sum([felt for at, felt in recent if at <= end_s - _BLIND_WITHIN_S])
        sizes = sqrt(sum(a * a for a in now) * sum(b * b for b in before))
        along = sum(a * b for a, b in zip(now, before, strict=True))
        return acos(max(-1.0, min(1.0, along / sizes))) if sizes > 0 else 0.0


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
    _direction: ForceDirection = field(default_factory=ForceDirection)

    def follow(
        self,
        end_s: float,
        duration_s: float,
        force_m_s2: float,
        turn_rad: Three,
        with_gyro: bool,
        felt_m_s2: Three = (0.0, 0.0, 0.0),
    ) -> Trouble | None:
        """One more frame: size of its mean force, its turn in the inertial frame, and its force on the sensor's axes,
        which is looked at where there is no gyro.
        """
        x, y, z = turn_rad
        if force_m_s2 < _FALLING_M_S2:
            self._fall_s += duration_s
            self._tumbled_rad += sqrt(x * x + y * y + z * z)
            self._blind = self._blind or not with_gyro
            return None
        fell = self._fall_s >= _SHORTEST_FALL_S and self._tumbled()
        self._fall_s, self._tumbled_rad, self._blind = 0.0, 0.0, False
        if fell:
            self._slip_said_s = end_s  # how it tumbles on is part of the fall
            return Trouble("sensor_fell", end_s, _FELL)
        if not with_gyro:
            return self._slipped_blind(end_s, felt_m_s2)
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
        return self._say_slipped(end_s, sqrt(x * x + y * y + z * z))

    def _slipped_blind(self, end_s: float, felt: Three) -> Trouble | None:
        if self.placement == "belt" or self.turns_fast:  # in a catch force points anywhere
            return None
        return self._say_slipped(end_s, self._direction.turned_rad(end_s, felt))

    def _say_slipped(self, end_s: float, turned_rad: float) -> Trouble | None:
        limit = 2 * _SLIP_RAD if self.turns_fast else _SLIP_RAD
        if turned_rad < limit or end_s - self._slip_said_s < _REPEAT_AFTER_S:
            return None
        self._slip_said_s = end_s
        return Trouble("sensor_slipped", end_s, _SLIPPED)


def _sum(forces: list[Three]) -> Three:
    x, y, z = (sum(axis) for axis in zip(*forces, strict=True))
    return x, y, z
