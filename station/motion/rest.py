"""When the bar may be taken for resting, and how well its velocity is then zero."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from math import hypot, pi, sqrt

from station.motion.attitude import Stillness, StillnessReading
from station.motion.live import VerticalFilter, VerticalStep
from station.motion.parameters import EngineParameters
from station.motion.tilt_filter import TiltFilter

_LARGEST_SPOILT_M_S = 0.4
_SPREADS = 2.0  # of the predicted speed: a held bar is not thought to be faster by more than these
_FASTEST_HOVER_M_S = 0.12
_CREEPS_M_S = 0.10  # a bar half-way up that looks still may be in the slowest of sticking regions
_LARGEST_SPOILT_ALONE_M_S = 1.5  # a bar that nobody holds lies there, however fast it seems


@dataclass
class RestAssumption:
    """Decides from frame to frame whether zero velocity is assumed.

    A rest that is none acts backwards through the smoother and does more harm than a missed one, so a held bar must
    be predicted slow within what is known, its mean acceleration near zero; only long stillness overrules that. Sway
    lasts, so that a second look within a fraction of a second says nothing new: assumptions are spaced out.
    """

    parameters: EngineParameters
    _since_held_s: float = 10.0
    _since_hovered_s: float = 10.0
    _doubted_s: float = 0.0
    _stuck_s: float = 0.0
    _gains: deque[tuple[float, float]] = field(default_factory=deque)

    def sigma(
        self,
        reading: StillnessReading,
        vertical: VerticalFilter,
        tilt: TiltFilter,
        step: VerticalStep,
        shock_m_s: float,
        *,
        mid_rise: bool = False,
        may_creep: bool = False,
        lost: bool = False,
        came_up: bool = False,
    ) -> float:
        """Standard deviation of true velocity about zero at this frame's end, m/s; 0: nothing is assumed.

        Half-way up (`mid_rise`) a bar grinds rather than rests: only long stillness is believed there. Where it may
        be half-way up (`may_creep`), one that looks still is so within the speed of a sticking region. Where it came
        up as far as it does (`came_up`), hovering is standing at the top. After a shock,
        stillness is believed against a prediction that the shock may have spoilt by `shock_m_s`; where samples were
        `lost` since the last rest, against one that says little.
        """
        p = self.parameters
        self._since_held_s += step.duration_s
        self._since_hovered_s += step.duration_s
        gained_m_s = self._gained(vertical, step) if p.gained_share else 0.0
        if reading.stillness == Stillness.MOVING:
            self._doubted_s = self._stuck_s = 0.0
            return 0.0
        hovering = reading.stillness == Stillness.HOVERING
        sigma = self._spread(reading, gained_m_s, came_up=came_up)
        spreads = p.top_rest_spreads if came_up else _SPREADS
        agrees = self._agrees(reading, vertical, step, sigma, spreads)
        agrees = agrees and (lost or not self._nears_top(reading, vertical))
        plausible = self._plausible(reading, step, agrees=agrees)
        stuck = mid_rise and reading.stillness >= Stillness.HELD
        self._stuck_s = self._stuck_s + step.duration_s if stuck else 0.0
        if (mid_rise and self._stuck_s < p.stuck_s) or (may_creep and hovering):
            return 0.0
        if may_creep and reading.stillness == Stillness.HELD:
            sigma = max(sigma, _CREEPS_M_S)
        if hovering and self._since_hovered_s < p.hover_spacing_s:
            return 0.0
        if reading.stillness == Stillness.HELD and self._since_held_s < p.soft_rest_spacing_s:
            return 0.0
        largest = _LARGEST_SPOILT_ALONE_M_S if reading.stillness == Stillness.ALONE else _LARGEST_SPOILT_M_S
        spoilt = (
            reading.stillness >= Stillness.HELD
            and abs(vertical.velocity) < min(shock_m_s, largest)
            and self._keeps_speed(vertical, step)
        )
        if not (spoilt or plausible) or self._travelling(reading, tilt, sigma, shock_m_s):
            return 0.0
        self._since_hovered_s = 0.0
        if not hovering:
            self._since_held_s = 0.0
        return sigma

    def _travelling(
        self, reading: StillnessReading, tilt: TiltFilter, sigma: float, shock_m_s: float
    ) -> bool:
        """Whether the bar is predicted to move sideways, beyond doubt and beyond what a shock may have spoilt."""
        if reading.for_s > (0.6 if reading.stillness == Stillness.ALONE else 1.5):
            return False
        _, speed_sd, _ = tilt.spread
        return tilt.speed_m_s > 3 * sqrt(speed_sd**2 + 4 * sigma**2) + 0.05 + shock_m_s

    def _plausible(self, reading: StillnessReading, step: VerticalStep, *, agrees: bool) -> bool:
        """Whether a bar this still is at rest: as predicted, or still for so long that the prediction is wrong."""
        p = self.parameters
        believed_s = p.alone_rest_s if reading.stillness == Stillness.ALONE else p.held_rest_s
        doubted = not agrees and reading.stillness >= Stillness.HELD
        self._doubted_s = self._doubted_s + step.duration_s if doubted else 0.0
        return agrees or self._doubted_s > believed_s

    def _agrees(
        self,
        reading: StillnessReading,
        vertical: VerticalFilter,
        step: VerticalStep,
        sigma: float,
        spreads: float,
    ) -> bool:
        """Whether this stillness is what was predicted."""
        p = self.parameters
        if not self._keeps_speed(vertical, step):
            return False
        if reading.stillness == Stillness.ALONE:
            known = sqrt(vertical.velocity_variance + sigma * sigma)
            return abs(vertical.velocity) < min(3 * known, 0.5)
        limit = spreads * sqrt(vertical.velocity_variance) + p.rest_speed_m_s
        if reading.stillness == Stillness.HOVERING:  # so does the fastest moment of a slow pull
            limit = min(limit, _FASTEST_HOVER_M_S)
        return abs(vertical.velocity) < limit

    def _nears_top(self, reading: StillnessReading, vertical: VerticalFilter) -> bool:
        """Whether a held bar rises faster than it can have been stopped from, so gently, since it looks still.

        After a slow rep of some seconds its height and speed are known badly, and a rest here would end it short.
        """
        stopped_from_m_s = max(self.parameters.rest_mean_acc_m_s2 * reading.for_s, _CREEPS_M_S)
        return reading.stillness == Stillness.HELD and vertical.velocity > stopped_from_m_s

    def _keeps_speed(self, vertical: VerticalFilter, step: VerticalStep) -> bool:
        """Whether mean vertical acceleration is that of a bar at rest."""
        offset, offset_sd = vertical.acceleration_offset(step)
        felt = step.dv_m_s / step.duration_s - offset
        return abs(felt) <= self.parameters.rest_mean_acc_m_s2 + 2 * offset_sd

    def _gained(self, vertical: VerticalFilter, step: VerticalStep) -> float:
        """What vertical velocity has gained over the window that stillness is judged by, m/s."""
        offset, _ = vertical.acceleration_offset(step)
        self._gains.append((step.duration_s, step.dv_m_s - offset * step.duration_s))
        window_s = sum(duration_s for duration_s, _ in self._gains)
        while len(self._gains) > 1 and window_s - self._gains[0][0] >= self.parameters.rest_window_s - 1e-6:
            window_s -= self._gains.popleft()[0]
        return sum(gain for _, gain in self._gains)

    def _spread(self, reading: StillnessReading, gained_m_s: float, *, came_up: bool) -> float:
        """Spread of true velocity when this still, m/s."""
        p, shakes_m_s2 = self.parameters, reading.acc_spread_m_s2
        if reading.stillness == Stillness.ALONE:
            return p.hard_rest_speed_m_s * max((shakes_m_s2 / 0.05) ** 2, 1.0)
        if came_up:  # sways; and what shakes within the window does so at least once in it: v = a / (2 pi f)
            spread = hypot(p.soft_rest_speed_m_s, shakes_m_s2 * p.rest_window_s / (2 * pi))
        else:
            spread = p.soft_rest_speed_m_s * max(shakes_m_s2 / 0.1, 0.7)
        return hypot(spread, p.gained_share * gained_m_s)
