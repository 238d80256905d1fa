"""Whether a set is under way, and when it is over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from station.motion.attitude import Stillness
from station.motion.frame_estimate import FrameEstimate
from station.motion.judge import Judge

SetEndReason = Literal["racked", "no rep for 30 s", "end of recording"]

_LEFT_ALONE_S = 1.0
_RACKED_AFTER_S = 2.0
_RACKED_FLOOR_LIFT_AFTER_S = 10.0


@dataclass
class SetWatch:
    """Follows a set from its first rep, counted or not, until the bar is racked or nothing has come for long.

    Attributes:
        active: a set is under way.
    """

    judge: Judge
    pause_s: float
    active: bool = False
    _last_rep_s: float = 0.0
    _alone_for_s: float = 0.0

    def goes_on(self, end_s: float) -> None:
        """A rep, a failed one or one that could not be measured has ended."""
        self.active = True
        self._last_rep_s = end_s

    def over(self, frame: FrameEstimate, *, rising: bool) -> SetEndReason | None:
        """One more frame; why the set is over, if it is."""
        alone = frame.stillness == Stillness.ALONE
        self._alone_for_s = self._alone_for_s + frame.duration_s if alone else 0.0
        if self._alone_for_s > _LEFT_ALONE_S:
            self.judge.left_alone()
        lift = self.judge.lift
        floor = lift is None or lift.concentric_first
        if self.active and self._alone_for_s > (_RACKED_FLOOR_LIFT_AFTER_S if floor else _RACKED_AFTER_S):
            return "racked"
        return "no rep for 30 s" if not rising and self.paused_until_s(frame.end_s) is not None else None

    def paused_until_s(self, now_s: float) -> float | None:
        """When the set was over because no rep came for long; None: it is not."""
        over_s = self._last_rep_s + self.pause_s
        return over_s if self.active and now_s - self._last_rep_s >= self.pause_s else None
