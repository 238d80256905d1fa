"""Repetitions out of the running estimate: when to look, what was found, when the set is over."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial

from station.motion.ascents import as_rep, joined, renumbered, surroundings
from station.motion.bounds import Movement, UpwardRun, measure, upward_runs
from station.motion.curve import Curve, smoothed_curve
from station.motion.estimate import MotionEstimate
from station.motion.events import FailedRep, MotionEvent, NotMeasured, RepMeasured, SetEnd
from station.motion.frame_estimate import FrameEstimate
from station.motion.holes import HoleWatch
from station.motion.judge import Ascent, Judge
from station.motion.parameters import EngineParameters
from station.motion.rising import LEAST_LOOK_BACK_S, Rising
from station.motion.set_watch import SetEndReason, SetWatch
from station.motion.spoilt import at_the_limit, spoilt_by_loss
from station.motion.waiting import Waiting

_TUMBLES_FOR_S = 1.5


@dataclass
class RepFinder:
    """Follows the live estimate; when an upward movement seems over, looks at the smoothed curve and decides."""

    judge: Judge
    estimate: MotionEstimate
    number: int = 0
    _decided_until_s: float = -1.0
    _told_until_s: float = -1.0
    _short: FailedRep | None = None
    _short_rep: RepMeasured | None = None
    _events: list[MotionEvent] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._rising = Rising(self.judge, self.estimate)
        self._set = SetWatch(self.judge, self._parameters.set_pause_s)
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
        self._rising.follow(index, estimate)
        if self._rising.since is not None and self._rising.seems_over(index, estimate):
            self._decide(index, self._rising.since, now, estimate.velocity_m_s)
        if not self.rising and self._holes.overdue(now):
            self._not_measured(self._holes.settle(now))
        reason = self._set.over(estimate, rising=self.rising)
        if reason is not None:
            self._events += self.end_set(now, reason)
        return self._events

    def new_set(self, usual_range_m: float | None) -> None:
        """Start counting anew."""
        self.judge.new_set(usual_range_m)
        self.number = 0
        self._set.active = False
        self._short = self._short_rep = None
        self._holes.forget()

    def end_set(self, now_s: float, reason: SetEndReason) -> list[MotionEvent]:
        """Close the set if there is one."""
        hidden: list[MotionEvent] = [*self._holes.settle(now_s)]
        if not (self._set.active or hidden):
            return []
        reps = self.number
        given = self.judge.given_range_m
        self.new_set(given)
        return [*hidden, SetEnd(now_s, reps, reason)]

    def fell(self, now_s: float) -> None:
        """The sensor fell: what moved until it lies still again is no rep."""
        self._rising.over()
        self._decided_until_s = now_s + _TUMBLES_FOR_S

    def silent(self, now_s: float) -> list[MotionEvent]:
        """Time passes without samples."""
        over_s = self._set.paused_until_s(now_s)
        return [] if over_s is None else self.end_set(over_s, "no rep for 30 s")

    @property
    def rising(self) -> bool:
        """Whether the bar may be rising, or a rise waits to be decided about."""
        return self._rising.since is not None

    @property
    def _parameters(self) -> EngineParameters:
        return self.estimate.parameters

    def _decide(self, index: int, since: int, now: float, velocity: float) -> None:
        """Look at the smoothed curve of a rise since that frame, and decide what can be decided."""
        p = self._parameters
        look_back = max((index - since) * p.frame_s + 2.0, LEAST_LOOK_BACK_S)
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
        self._rising.nothing_new_before_s = -1.0
        for run in runs:
            until = self._looked_at(run, curve, now)
            if until is not None:
                unfinished, self._rising.nothing_new_before_s = True, until - p.frame_s
                break
        too_long = (index - since) * p.frame_s > p.history_s
        if not unfinished and (velocity < p.moving_m_s or too_long):
            self._rising.over()

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
            if verdict != "nothing" or self._set.active:
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
        self._set.goes_on(end)
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
        self._not_measured(self._holes.hole(start, end, self._rising.risen_m))
        self._rising.over()
        self._decided_until_s = end

    def _not_measured(self, events: list[NotMeasured]) -> None:
        for event in events:
            self._set.goes_on(event.end_time_s)
            self._events.append(event)
