"""What happens between frames and matters later: shocks that may have spoilt the velocity, tops and bottoms."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from station.motion.live import BOTTOM, TOP

_LEAST_TRAVEL_M = 0.15
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


@dataclass
class TurnWatch:
    """Notices where a long movement up or down began or ended: tops and bottoms of the lift."""

    _rising: bool = True
    from_m: float = 0.0
    _from_frame: int = 0
    _known: bool = True

    def follow(self, frame: int, velocity_m_s: float, height_m: float) -> tuple[int, int] | None:
        """One more frame; TOP or BOTTOM with its frame, when one shows that is at least 15 cm from where the bar is.

        The end of a long movement shows at once, the place where one began from a standstill 15 cm later.
        """
        rising = velocity_m_s > 0
        travelled = abs(height_m - self.from_m)
        if rising != self._rising:
            self._rising, self.from_m, self._from_frame = rising, height_m, frame
            self._known = travelled >= _LEAST_TRAVEL_M
            return (BOTTOM if rising else TOP, frame) if self._known else None
        if self._known or travelled < _LEAST_TRAVEL_M:
            return None
        self._known = True
        return BOTTOM if rising else TOP, self._from_frame
