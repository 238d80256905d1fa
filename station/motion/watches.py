"""What happens between frames and matters later: shocks that may have spoilt the velocity, tops and bottoms."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from station.motion.live import BOTTOM, TOP

_LEAST_TRAVEL_M = 0.15
_LEAST_TURN_M = 0.02
_SHOCK_FRAMES = 50  # two seconds
_SPOILT_SHARE = 2.0


@dataclass
class ShockWatch:
    """The shocks of the last two seconds since the bar was known to rest: each may have spoilt the velocity."""

    _jolts: deque[tuple[int, float]] = field(default_factory=deque)

    def note(self, frame: int, jolt_m_s: float) -> None:
        """One more frame, with what its samples may have missed."""
        while self._jolts and frame - self._jolts[0][0] > _SHOCK_FRAMES:
            self._jolts.popleft()
        if jolt_m_s > 0.0:
            self._jolts.append((frame, jolt_m_s))

    def rested(self) -> None:
        """The bar rests: what shocks did to the velocity is known and mended."""
        self._jolts.clear()

    @property
    def strongest(self) -> int | None:
        """Running index of the frame with the strongest shock; None where there was none of late."""
        return max(self._jolts, key=lambda one: one[1])[0] if self._jolts else None

    @property
    def spoilt_m_s(self) -> float:
        """How far off the velocity may be now, m/s."""
        return _SPOILT_SHARE * sum([jolt for _, jolt in self._jolts]) if self._jolts else 0.0


class Way(NamedTuple):
    """A movement one way.

    Attributes:
        rising: which way.
        from_m, from_frame: where it began.
        known: it began at a top or bottom that was told.
        told_m: the height where it seemed to end for a moment, and that was told.
    """

    rising: bool
    from_m: float
    from_frame: int
    known: bool
    told_m: float = inf


@dataclass
class TurnWatch:
    """Notices where a long movement up or down began or ended: tops and bottoms of the lift."""

    _way: Way = field(default_factory=lambda: Way(rising=True, from_m=0.0, from_frame=0, known=True))
    _before: Way | None = None

    @property
    def from_m(self) -> float:
        """Height at which the present movement began, m."""
        return self._way.from_m

    def began_at(self, height_m: float) -> None:
        """The present movement began at this height: a closure has put it right, which is no travel."""
        self._way = self._way._replace(from_m=height_m)

    def begins_anew(self) -> None:
        """What the bar does next is a movement of its own, however little it did before."""
        self._before = None

    def follow(self, frame: int, velocity_m_s: float, height_m: float) -> tuple[int, int] | None:
        """One more frame; TOP or BOTTOM with its frame, when one shows that is at least 15 cm from where the bar is.

        The end of a long movement shows at once, the place where one began from a standstill 15 cm later. A grinding
        bar whose estimate dips below zero for a moment has not turned: it goes on as before.
        """
        rising = velocity_m_s > 0
        travelled = abs(height_m - self._way.from_m)
        if rising != self._way.rising:
            if self._before is None or travelled >= _LEAST_TURN_M:
                known = travelled >= _LEAST_TRAVEL_M
                new = known and abs(height_m - self._way.told_m) >= _LEAST_TURN_M
                self._before, self._way = self._way, Way(rising, height_m, frame, known)
                return (BOTTOM if rising else TOP, frame) if new else None
            told_m = self._way.from_m if self._way.known else inf
            self._way, self._before = self._before._replace(told_m=told_m), None
            travelled = abs(height_m - self._way.from_m)
        if self._way.known or travelled < _LEAST_TRAVEL_M:
            return None
        self._way = self._way._replace(known=True)
        return BOTTOM if rising else TOP, self._way.from_frame
