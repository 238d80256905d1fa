"""Repetitions out of the running estimate: when to look, what was found, when the set is over."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from math import sqrt
from typing import Literal

import numpy as np

from station.motion.ascents import (
    as_rep,
    joined,
    renumbered,
    surroundings,
)
from station.motion.attitude import Stillness
from station.motion.bounds import Movement, UpwardRun, measure, upward_runs
from station.motion.curve import Column, Curve, smoothed_curve
from station.motion.estimate import FrameEstimate, MotionEstimate
from station.motion.events import FailedRep, MotionEvent, NotMeasured, RepMeasured, SetEnd
from station.motion.holes import HoleWatch
from station.motion.judge import Ascent, Judge
from station.motion.parameters import EngineParameters
from station.motion.spoilt import at_the_limit, spoilt_by_loss
from station.motion.waiting import Waiting

SetEndReason = Literal["racked", "no rep for 30 s", "end of recording"]

_LEAST_LOOK_BACK_S = 5.0
_RACKED_AFTER_S = 2.0
_RACKED_FLOOR_LIFT_AFTER_S = 10.0
_TUMBLES_FOR_S = 1.5


@dataclass
class RepFinder:
    """Follows the live estimate; when an upward movement seems over, looks at the smoothed curve and decides."""

    judge: Judge
    estimate: MotionEstimate
    number: int = 0
    _open_since: int | None = None
    _peak_m: float = 0.0
    _low_m: float = 0.0
    _came_from_above_m: float = 0.0
    _height_variance: float = 0.0
    _slow_for_s: float = 0.0
    _nothing_new_before_s: float = -1.0
    _decided_until_s: float = -1.0
    _told_until_s: float = -1.0
    _set_active: bool = False
    _last_rep_s: float = 0.0
    _alone_for_s: float = 0.0
    _short: FailedRep | None = None
    _short_rep: RepMeasured | None = None
    _events: list[MotionEvent] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._holes = HoleWatch(self.judge)
        self._waiting = Waiting(self.judge, self._parameters)

    def step(self, estimate: FrameEstimate) -> list[MotionEvent]:
        """One more frame, already in the history; what was decided at its end."""
        index = len(self.estimate.frames) - 1
        now = estimate.end_s
        self._events = []
        if estimate.lost_s > self._parameters.reset_gap_s:
            self._hole(now - estimate.duration_s, now)
        self._holes.follow(estimate)
        self._follow(index, estimate)
        if self._open_since is not None and self._seems_over(index, estimate):
            self._decide(index, now, estimate.velocity_m_s)
        if self._open_since is None and self._holes.overdue(now):
            self._not_measured(self._holes.settle(now))
        self._watch_set(estimate)
        return self._events

    def new_set(self, usual_range_m: float | None) -> None:
        """Start counting anew."""
        self.judge.new_set(usual_range_m)
        self.number = 0
        self._set_active = False
        self._short = self._short_rep = None
        self._holes.forget()

    def end_set(self, now_s: float, reason: SetEndReason) -> list[MotionEvent]:
        """Close the set if there is one."""
        hidden: list[MotionEvent] = [*self._holes.settle(now_s)]
        if not (self._set_active or hidden):
            return []
        reps = self.number
        given = self.judge.given_range_m
        self.new_set(given)
        return [*hidden, SetEnd(now_s, reps, reason)]

    def fell(self, now_s: float) -> None:
        """The sensor fell: what moved until it lies still again is no rep."""
        self._open_since = None
        self._decided_until_s = now_s + _TUMBLES_FOR_S

    def silent(self, now_s: float) -> list[MotionEvent]:
        """Time passes without samples."""
        if self._set_active and now_s - self._last_rep_s >= self._parameters.set_pause_s:
            return self.end_set(self._last_rep_s + self._parameters.set_pause_s, "no rep for 30 s")
        return []

    @property
    def _parameters(self) -> EngineParameters:
        return self.estimate.parameters

    def _follow(self, index: int, estimate: FrameEstimate) -> None:
        p, velocity = self._parameters, estimate.velocity_m_s
        if self._open_since is None:
            if velocity > 0.75 * p.moving_m_s:
                self._open_since = index
                self._peak_m = self._low_m = estimate.height_m
                self._came_from_above_m = self._recent_top() - estimate.height_m
                self._height_variance = self.estimate.height_variance
                self._slow_for_s = 0.0
                self._nothing_new_before_s = -1.0
            self.estimate.mid_rise = self.estimate.may_creep = self.estimate.came_up = False
            return
        self._peak_m = max(self._peak_m, estimate.height_m)
        self._slow_for_s = 0.0 if velocity > 1.25 * p.slow_m_s else self._slow_for_s + estimate.duration_s

        unsure = sqrt(max(self.estimate.height_variance - self._height_variance, 0.0))
        risen = estimate.height_m - self._low_m
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
        frames, count = self.estimate.frames, int(_LEAST_LOOK_BACK_S / self._parameters.frame_s)
        first = max(self.estimate.frames_ago(count), self.estimate.since)
        return float(frames.view(first, len(frames))[:, Column.STATE].max(initial=-np.inf))

    def _seems_over(self, index: int, estimate: FrameEstimate) -> bool:
        """Whether to look: the bar seems to have stopped, and there may be news since the last look."""
        p = self._parameters
        if estimate.resting or self._peak_m - estimate.height_m >= 0.6 * p.come_down_m:
            return True
        if self._slow_for_s < 0.6 * p.settled_s:
            return False
        row = self.estimate.frames.view(index, index + 1)[0]
        turned: bool = row.item(Column.TOP_SIGMA) > 0 or row.item(Column.BOTTOM_SIGMA) > 0
        return turned or estimate.end_s >= self._nothing_new_before_s

    def _decide(self, index: int, now: float, velocity: float) -> None:
        p = self._parameters
        assert self._open_since is not None
        look_back = max((index - self._open_since) * p.frame_s + 2.0, _LEAST_LOOK_BACK_S)
        frames = self.estimate.frames
        reach = self.estimate.frames_ago(int(min(look_back, p.history_s) / p.frame_s) + 1)
        first = max(reach, self.estimate.since, frames.dropped + 1)
        curve = smoothed_curve(frames, self.estimate.samples, first, index + 1, p)
        runs = [
            run
            for run in upward_runs(curve.time_s, curve.steady_m_s, p)
            if curve.time_s[run.last] > self._decided_until_s
        ]
        runs = joined(runs, curve, self.judge)
        unfinished = False
        self._nothing_new_before_s = -1.0
        for run in runs:
            until = self._looked_at(run, curve, now)
            if until is not None:
                unfinished, self._nothing_new_before_s = True, until - p.frame_s
                break
        too_long = (index - self._open_since) * p.frame_s > p.history_s
        if not unfinished and (velocity < p.moving_m_s or too_long):
            self._open_since = None

    def _looked_at(self, run: UpwardRun, curve: Curve, now: float) -> float | None:
        """Decide about a run; when to look again where it has to wait."""
        if run.final is None:
            return self._waiting.settles_s(run, curve)
        movement = self._measured(run, curve)
        until = self._waiting.until(run, movement, curve, now)
        if until is None:
            self._decided_until_s = float(curve.time_s[run.final])
            self._decide_run(curve, run, movement, now)
        return until

    def _measured(self, run: UpwardRun, curve: Curve) -> Movement:
        return measure(
            curve.time_s,
            curve.velocity_m_s,
            curve.acceleration_m_s2,
            run,
            self._parameters,
            curve.steady_m_s,
        )

    def _decide_run(self, curve: Curve, run: UpwardRun, movement: Movement, now: float) -> None:
        ascent = surroundings(curve, run, movement)
        verdict = "nothing" if at_the_limit(curve, movement) else self.judge.verdict(ascent)
        if self._holes.began_in(movement):
            if verdict != "nothing" or self._set_active:
                self._not_measured(self._holes.rest_of(movement, now))
            return
        if movement.start_time_s < self._told_until_s:  # what was told already, looked at with more behind it
            return
        spread = partial(self._waiting.spread_m_s, run, movement, curve)
        spoilt = spoilt_by_loss(curve, movement, verdict, self.judge, spread)
        if verdict == "nothing" and not spoilt:
            return
        self._not_measured(self._holes.rose(movement, ascent, now))
        start, end = movement.start_time_s, movement.end_time_s
        self._set_active = True
        self._last_rep_s = end
        if spoilt:
            self._short = self._short_rep = None
            self._told_until_s = end
            self._events.append(NotMeasured(start, end, now, spoilt))
        elif verdict == "rep":
            self._short = None
            self._count(curve, run, movement, ascent, now)
        else:
            self._fail(curve, movement, ascent, now)

    def _fail(self, curve: Curve, movement: Movement, ascent: Ascent, now: float) -> None:
        """A short movement is reported as failed; a second in a row makes both reps, flagged."""
        failed = FailedRep(movement.start_time_s, movement.end_time_s, movement.displacement_m, now)
        rep = as_rep(curve, movement, 0, now, ("short",), self._parameters)
        if self._short_rep is None or self._short is None:
            self._short, self._short_rep = failed, rep
            self._events.append(failed)
            return
        for short in (self._short_rep, rep):
            self.number += 1
            self._events.append(renumbered(short, self.number, now))
        self._short, self._short_rep = None, None

    def _count(self, curve: Curve, run: UpwardRun, movement: Movement, ascent: Ascent, now: float) -> None:
        self.number += 1
        self.judge.counted(ascent)
        self._told_until_s = movement.end_time_s
        self._short = self._short_rep = None
        p = self._parameters
        spread = self._waiting.spread_m_s(run, movement, curve)
        rep = as_rep(curve, movement, self.number, now, (), p, spread)
        self._events.append(rep)

    def _hole(self, start: float, end: float) -> None:
        risen_m = self._peak_m - self._low_m if self._open_since is not None else 0.0
        self._not_measured(self._holes.hole(start, end, risen_m))
        self._open_since = None
        self._decided_until_s = end

    def _not_measured(self, events: list[NotMeasured]) -> None:
        for event in events:
            self._set_active = True
            self._last_rep_s = event.end_time_s
            self._events.append(event)

    def _watch_set(self, estimate: FrameEstimate) -> None:
        now, alone = estimate.end_s, estimate.stillness == Stillness.ALONE
        self._alone_for_s = self._alone_for_s + estimate.duration_s if alone else 0.0
        if self._alone_for_s > 1.0:
            self.judge.left_alone()
        lift = self.judge.lift
        floor = lift is None or lift.concentric_first
        if self._set_active and self._alone_for_s > (
            _RACKED_FLOOR_LIFT_AFTER_S if floor else _RACKED_AFTER_S
        ):
            self._events += self.end_set(now, "racked")
        elif (
            self._set_active
            and now - self._last_rep_s >= self._parameters.set_pause_s
            and self._open_since is None
        ):
            self._events += self.end_set(now, "no rep for 30 s")
