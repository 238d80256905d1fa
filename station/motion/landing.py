"""A bar put down hard lies still: no lifter's hands keep a bar's speed constant right after a blow.

What a blow does to the velocity is only known to a tenth or so of its size, and a rep that begins a fifth of a second
later, while the steel still rings, would carry that with it.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from math import hypot

_BLOW_M_S = 0.1
_STILL_RINGS_M_S = 0.02
_COMING_DOWN_M_S = -0.15
_BEFORE_FRAMES = 3
_RINGS_FOR_S = 0.35
_STEADY_M_S2 = 0.25
_GAINS_M_S = 0.05
_AGREES_SD = 3.0
_AGREES_RISING_SD = 2.0  # it may have been pulled within the blow
_STOPPED_SD = 2.0
_LIES_M_S = 0.02
_STOPPED_M_S = 0.06  # at a blow's end, though it may be pulled already
_SLOWLY_M_S2 = 1.7  # one pulled harder may have begun before the blow was over, one that bounces falls again


@dataclass(frozen=True, slots=True)
class Landing:
    """What a landing tells: the bar lay still, within sigma, so many frames ago, and has gained this speed since."""

    gained_m_s: float
    sigma_m_s: float
    frames_ago: int


@dataclass
class LandingWatch:
    """Follows a bar that comes down, is stopped by a blow, and then keeps its speed (zero) or is pulled at once."""

    _before_m_s: deque[float] = field(default_factory=lambda: deque(maxlen=_BEFORE_FRAMES))
    _blow_s: float = 0.0
    _since_blow_s: float = _RINGS_FOR_S
    _since_blow_frames: int = 0
    _since_blow_m_s: float = 0.0
    _since_ringing_m_s: float = 0.0
    _rings: bool = False
    _stopped: bool = False

    def struck(self, blow_m_s: float, velocity_m_s: float, duration_s: float) -> bool:
        """One more frame; whether a blow of late may have ended a descent.

        Args:
            blow_m_s: what the frame's samples may have missed of shocks.
            velocity_m_s, duration_s: predicted at the frame's end; its length.
        """
        came_down = min(self._before_m_s, default=0.0) < _COMING_DOWN_M_S
        self._before_m_s.append(velocity_m_s)
        self._since_blow_s += duration_s
        self._since_blow_frames += 1
        self._rings = blow_m_s > _STILL_RINGS_M_S
        if blow_m_s >= _BLOW_M_S and came_down:
            self._blow_s = duration_s + (self._blow_s if self._since_blow_frames == 1 else 0.0)
            self._since_blow_s = self._since_blow_m_s = self._since_ringing_m_s = 0.0
            self._since_blow_frames, self._stopped = 0, False
            return False
        return self._since_blow_s <= _RINGS_FOR_S

    def told(self, velocity_m_s: float, sd_m_s: float, gain_m_s: float, duration_s: float) -> Landing | None:
        """What is known at the end of a frame with a blow of late; None: nothing new.

        Args:
            velocity_m_s, sd_m_s: predicted at the frame's end, and how surely.
            gain_m_s, duration_s: vertical velocity gained over the frame, and its length.
        """
        self._since_blow_m_s += gain_m_s
        if self._rings:
            self._since_ringing_m_s = 0.0
            return None
        self._since_ringing_m_s += gain_m_s
        steady = abs(gain_m_s) < _STEADY_M_S2 * duration_s and abs(self._since_ringing_m_s) < _GAINS_M_S
        if steady and -_AGREES_SD * sd_m_s < velocity_m_s < _AGREES_RISING_SD * sd_m_s:
            self._since_blow_s = _RINGS_FOR_S  # once told, the next says nothing new
            return Landing(0.0, _LIES_M_S, 0)
        if self._stopped:
            return None
        self._stopped = True
        if (
            abs(gain_m_s) > _SLOWLY_M_S2 * duration_s
            or abs(velocity_m_s - self._since_blow_m_s) > _STOPPED_SD * sd_m_s
        ):
            return None
        # pulled since half the blow, perhaps
        began_m_s = 0.5 * self._blow_s * max(gain_m_s, 0.0) / duration_s
        sigma_m_s = hypot(_STOPPED_M_S, began_m_s)
        return Landing(self._since_blow_m_s + began_m_s, sigma_m_s, self._since_blow_frames)
