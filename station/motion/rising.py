"""The bar while it may be rising: since when, how far, and what whoever assumes rest has to know of it."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from station.motion.columns import Column
from station.motion.estimate import MotionEstimate
from station.motion.frame_estimate import FrameEstimate
from station.motion.judge import Judge

LEAST_LOOK_BACK_S = 5.0


@dataclass
class Rising:
    """Follows the live estimate from the moment the bar seems to rise until that is decided about.

    Attributes:
        since: running index of the frame it began with; None while the bar does not rise.
        nothing_new_before_s: what was looked at waits until then, unless a rest, a turn or the way down tells more.
    """

    judge: Judge
    estimate: MotionEstimate
    since: int | None = None
    nothing_new_before_s: float = -1.0
    _peak_m: float = 0.0
    _low_m: float = 0.0
    _came_from_above_m: float = 0.0
    _height_variance: float = 0.0
    _slow_for_s: float = 0.0

    @property
    def risen_m(self) -> float:
        """How far the bar has risen, m."""
        return self._peak_m - self._low_m if self.since is not None else 0.0

    def over(self) -> None:
        """It is decided about."""
        self.since = None

    def follow(self, index: int, frame: FrameEstimate) -> None:
        """One more frame, with its running index."""
        if self.since is not None:
            self._go_on(frame)
            return
        if frame.velocity_m_s > 0.75 * self.estimate.parameters.moving_m_s:
            self._begin(index, frame)
        self.estimate.mid_rise = self.estimate.may_creep = self.estimate.came_up = False

    def seems_over(self, index: int, frame: FrameEstimate) -> bool:
        """Whether to look: the bar seems to have stopped, and there may be news since the last look."""
        p = self.estimate.parameters
        if frame.resting or self._peak_m - frame.height_m >= 0.6 * p.come_down_m:
            return True
        if self._slow_for_s < 0.6 * p.settled_s:
            return False
        row = self.estimate.frames.view(index, index + 1)[0]
        turned: bool = row.item(Column.TOP_SIGMA) > 0 or row.item(Column.BOTTOM_SIGMA) > 0
        return turned or frame.end_s >= self.nothing_new_before_s

    def _begin(self, index: int, frame: FrameEstimate) -> None:
        self.since = index
        self._peak_m = self._low_m = frame.height_m
        self._came_from_above_m = self._recent_top() - frame.height_m
        self._height_variance = self.estimate.height_variance
        self._slow_for_s = 0.0
        self.nothing_new_before_s = -1.0

    def _go_on(self, frame: FrameEstimate) -> None:
        p, velocity = self.estimate.parameters, frame.velocity_m_s
        self._peak_m = max(self._peak_m, frame.height_m)
        self._slow_for_s = 0.0 if velocity > 1.25 * p.slow_m_s else self._slow_for_s + frame.duration_s
        unsure = sqrt(max(self.estimate.height_variance - self._height_variance, 0.0))
        risen = frame.height_m - self._low_m
        sinks = velocity < -p.moving_m_s  # so far off that a rest will tell more than it can spoil
        self.estimate.mid_rise = not sinks and self.judge.half_way_up(
            risen - unsure, risen + unsure, self._came_from_above_m
        )
        self.estimate.came_up = self.judge.has_come_up(risen - unsure)
        self.estimate.may_creep = not sinks and self.judge.may_be_half_way_up(
            risen, unsure, self._came_from_above_m
        )

    def _recent_top(self) -> float:
        """Greatest height of the last seconds, on the running height."""
        frames, count = self.estimate.frames, int(LEAST_LOOK_BACK_S / self.estimate.parameters.frame_s)
        first = max(self.estimate.frames_ago(count), self.estimate.since)
        return float(frames.view(first, len(frames))[:, Column.STATE].max(initial=-np.inf))
