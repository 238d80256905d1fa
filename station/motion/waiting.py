"""When an upward movement can be decided: not while it may go on, nor where the next rest will tell much more.

Every look at it costs as much as a second of frames, so a movement that has to wait says until when: where the bar
stands still and nothing holds, further samples alone move its end by less than a frame.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from station.motion.ascents import LONGEST_STALL_S, half_width, rise, turned_back
from station.motion.bounds import Movement, UpwardRun
from station.motion.bounds_spread import spread_of_mean_velocity
from station.motion.curve import Curve
from station.motion.judge import Judge
from station.motion.parameters import EngineParameters

_WAIT_S = 0.28
_LONGEST_WAIT_S = 2.5  # by then the bar has come down and rests
_WORTH_WAITING_M_S = 0.02
_UNTIL_IT_RESTS_S = 1.5
_UNSURE_STALL_M_S = 0.03  # so unsure of its speed, a bar that seems to stand may grind on
_LONGEST_UNSURE_STALL_S = 4.0


@dataclass
class Waiting:
    """Knows the lift and the set so far, by the judge, and what was computed last."""

    judge: Judge
    parameters: EngineParameters
    _spread: tuple[Movement, float] | None = None

    def settles_s(self, run: UpwardRun, curve: Curve) -> float:
        """When a movement that is not over will have settled, if it goes on as it does."""
        fast = np.flatnonzero(curve.steady_m_s[run.last :] > self.parameters.slow_m_s)
        return float(curve.time_s[run.last + fast[-1]]) + self.parameters.settled_s

    def until(self, run: UpwardRun, movement: Movement, curve: Curve, now_s: float) -> float | None:
        """When to look again at a movement that is over, unless something new is known before; None: decide it.

        Args:
            run, movement, curve: the movement, its figures, and what they were read off.
            now_s: the curve's end.
        """
        if self._stalled(run, curve, now_s):
            return float(curve.time_s[run.last]) + LONGEST_STALL_S
        return self._worth_waiting(run, movement, curve, now_s)

    def spread_m_s(self, run: UpwardRun, movement: Movement, curve: Curve) -> float:
        """`spread_of_mean_velocity`; the same movement is asked for twice."""
        if self._spread is None or self._spread[0] is not movement:
            self._spread = movement, spread_of_mean_velocity(curve, run, movement, self.parameters)
        return self._spread[1]

    def _stalled(self, run: UpwardRun, curve: Curve, now_s: float) -> bool:
        """Short of a rep, at a standstill, and neither turned back nor given up: it may still go on."""
        stood_s = now_s - float(curve.time_s[run.last])
        unsure_m_s = sqrt(max(curve.smoothed.variance_of_velocity(len(curve.frame_time_s) - 1), 0.0))
        standing = stood_s < (_LONGEST_UNSURE_STALL_S if unsure_m_s > _UNSURE_STALL_M_S else LONGEST_STALL_S)
        attempt = self.judge.is_attempt(rise(curve, run.first, run.last))
        return attempt and standing and not turned_back(curve, run, len(curve.time_s))

    def _worth_waiting(self, run: UpwardRun, movement: Movement, curve: Curve, now_s: float) -> float | None:
        """Until when, not sure yet and just over: the rest that follows at the top will tell more."""
        end = movement.end_time_s
        unsure, waited = half_width(curve, movement), now_s - end
        if waited < _UNTIL_IT_RESTS_S and self._is_settled_by_rest(run, movement, curve, unsure):
            return end + _UNTIL_IT_RESTS_S
        if unsure < _WORTH_WAITING_M_S or waited > _LONGEST_WAIT_S:
            return None
        if waited < _WAIT_S:
            return end + _WAIT_S
        may_have_risen = movement.displacement_m + unsure * movement.duration_s
        short = self.judge.short_of_a_rep(movement.displacement_m, may_have_risen)
        return end + _LONGEST_WAIT_S if short else None

    def _is_settled_by_rest(
        self, run: UpwardRun, movement: Movement, curve: Curve, unsure_m_s: float
    ) -> bool:
        """Whether its speed is hardly known, or a little of velocity moves its bounds far: the next rest or return
        mostly settles either."""
        limit = self.parameters.steep_lost_m_s if curve.lost_s.any() else self.parameters.steep_m_s
        six_axes = not (curve.blind or curve.lost_s.any())  # else waiting settles less
        hardly = six_axes and unsure_m_s > self.parameters.hardly_known_share * movement.mean_velocity_m_s
        return hardly or self.spread_m_s(run, movement, curve) > limit
