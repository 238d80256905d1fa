"""What happens between frames and matters later: shocks that may have spoilt the velocity, tops and bottoms."""

from __future__ import annotations

from dataclasses import dataclass

from station.motion.live import BOTTOM, TOP

_LEAST_TRAVEL_M = 0.15
_SHOCK_FRAMES = 50  # two seconds
_SPOILT_SHARE = 2.0


@dataclass
class ShockWatch:
    """Remembers the last shock: its strongest frame, and how far it may have spoilt the velocity.

    Attributes:
        last: running index of that frame.
    """

    last: int | None = None
    _jolt_m_s: float = 0.0
    _total_m_s: float = 0.0

    def note(self, frame: int, jolt_m_s: float) -> None:
        """One more frame, with what its samples may have missed."""
        if jolt_m_s <= 0.0:
            return
        if self.last is None or frame - self.last > _SHOCK_FRAMES:
            self._jolt_m_s = self._total_m_s = 0.0
        self._total_m_s += jolt_m_s
        if jolt_m_s >= self._jolt_m_s:
            self.last, self._jolt_m_s = frame, jolt_m_s

    def spoilt_m_s(self, frame: int) -> float:
        """How far off the velocity may be now, m/s."""
        recent = self.last is not None and frame - self.last <= _SHOCK_FRAMES
        return _SPOILT_SHARE * self._total_m_s if recent else 0.0


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
