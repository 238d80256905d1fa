"""The streaming motion engine: samples in, repetitions, jumps and troubles out.

One engine serves live capture and replay. It works on frames whose borders depend on sample times alone, so the same
samples in blocks of any size give the same events, to the bit.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from drivers.samples import FloatArray, IntArray, TimedBlock
from station.motion.attitude import Stillness
from station.motion.calibration import Calibration
from station.motion.closure import ComesBack
from station.motion.estimate import CHUNK_FRAMES, MotionEstimate
from station.motion.events import MotionEvent, Placement
from station.motion.frame_estimate import FrameEstimate
from station.motion.frames import Three, frame_ends, in_rows
from station.motion.intake import Decided, Intake
from station.motion.judge import Judge
from station.motion.mishaps import MishapWatch
from station.motion.parameters import (
    BELT_PARAMETERS,
    UNCALIBRATED_PARAMETERS,
    UNKNOWN_LIFT_GAINED_SHARE,
    EngineParameters,
)
from station.motion.pending import HeldPackets, Pending
from station.motion.reps import RepFinder
from station.motion.sensor_watches import GyroWatch
from station.squad.lifts import Lift

if TYPE_CHECKING:
    from station.motion.jumps import JumpFinder


class MotionEngine:
    """Turns one sensor's samples into events.

    Args:
        placement: "bar" finds repetitions, "belt" finds jumps.
        lift: what is lifted; None: any lift, with cautious limits.
        calibration: of this sensor; None: none was made.
        usual_range_m: the athlete's usual range of motion of this lift, if known.
        range_m_s2: the accelerometer's range, for clipping, if known.
        parameters: the engine's assumptions.
    """

    def __init__(
        self,
        placement: Placement,
        lift: Lift | None = None,
        calibration: Calibration | None = None,
        usual_range_m: float | None = None,
        range_m_s2: float | None = None,
        parameters: EngineParameters | None = None,
    ) -> None:
        self.placement = placement
        self.parameters = parameters or _assumptions(placement, lift, calibration)
        self._calibration = calibration
        self._intake = Intake(range_m_s2, may_fly=placement == "belt")
        self._pending = Pending()
        self._held = HeldPackets()
        self._estimate = MotionEstimate(self.parameters, _comes_back(placement, lift))
        self._reps = RepFinder(Judge(lift, usual_range_m), self._estimate)
        self._jumps = _jump_finder(self._estimate) if placement == "belt" else None
        self._gyro = GyroWatch()
        self._with_gyro: list[bool] = []  # of the frames that wait
        self._gyro_hung_s: float | None = None
        self._mishaps = MishapWatch(placement, lift is not None and lift.first_pull_only)
        self._live: list[tuple[float, float]] = []
        self._decided: list[Decided] = []

    def feed(self, block: TimedBlock) -> list[MotionEvent]:
        """Take samples in; what they decided. While the bar does not rise they may wait for the next ones."""
        if len(block):
            self._look_at(self._held.take(block))
        return self._events()

    def advance(self, now_s: float) -> list[MotionEvent]:
        """Time passes without samples; `now_s` on the recovered clock."""
        self._look_at(self._held.let_go())
        if not self._intake.pass_time(now_s):
            return self._events()
        self._decided += [Decided(now_s, event) for event in self._reps.silent(now_s)]
        return self._events(inf)

    def finish(self) -> list[MotionEvent]:
        """The stream is over: say what is still open."""
        self._look_at(self._held.let_go())
        self._intake.close()
        now = self._intake.last_time_s or 0.0
        if self._jumps is not None:
            self._decided += [Decided(now, jump) for jump in self._jumps.finish(now)]
        self._decided += [Decided(now, event) for event in self._reps.end_set(now, "end of recording")]
        return self._events(inf)

    def live(self) -> tuple[FloatArray, FloatArray]:
        """Time (s) and causal vertical velocity (m/s) of frames taken in since the last call: for the trace only."""
        recent, self._live = self._live, []
        values = np.array(recent).reshape(-1, 2)
        return values[:, 0], values[:, 1]

    def new_set(self, usual_range_m: float | None = None) -> None:
        """A set starts now: numbering starts at 1, with this usual range of motion, if known."""
        self._look_at(self._held.let_go())
        self._reps.new_set(usual_range_m)

    def end_set(self) -> list[MotionEvent]:
        """The set was ended by hand: no set end is reported for it again."""
        self._look_at(self._held.let_go())
        self._reps.new_set(self._reps.judge.given_range_m)
        return []

    def _look_at(self, blocks: list[TimedBlock]) -> None:
        """Take samples in that wait no longer; what the intake finds is put in order by `_events`."""
        for block in blocks:
            clean = self._intake.take(block)
            if len(clean.time_s):
                self._pending.add(clean, self._corrected(clean.acc_m_s2))
                self._close_frames()

    def _corrected(self, acc_m_s2: FloatArray) -> FloatArray:
        return acc_m_s2 if self._calibration is None else self._calibration.apply(acc_m_s2)

    def _events(self, until_s: float | None = None) -> list[MotionEvent]:
        """In order of time: what was found in samples that wait comes after what the ones before them bring about."""
        if not (self._intake.events or self._decided):
            return []
        found = self._intake.drain(self._pending.known_until_s if until_s is None else until_s)
        decided = sorted([*found, *self._decided], key=lambda d: d.time_s)
        self._decided = []
        return [d.event for d in decided]

    def _close_frames(self) -> None:
        """Take in the frames that are complete.

        The last few of a bar that lies wait until it is known whether they are joined; nothing is decided by them.
        """
        pending = self._pending
        ends = frame_ends(pending.time_s, self.parameters.frame_s)
        if len(ends) <= 1 + len(self._with_gyro):
            return
        first, stop = 0, len(ends) - 1
        while first < stop:
            part = ends[first : first + CHUNK_FRAMES + 1]
            frames, clipped = in_rows(pending.rows[:7], part), pending.clipped_in(part)
            self._with_gyro += self._gyro_of(part[1 + len(self._with_gyro) :])
            taken = 0
            for estimate in self._estimate.take(frames, clipped, self._with_gyro):
                self._take(estimate)
                taken += estimate.frames
            del self._with_gyro[:taken]
            first += taken
            if len(part) <= CHUNK_FRAMES:
                break
        pending.drop(int(ends[first]))

    def _gyro_of(self, ends: IntArray) -> list[bool]:
        """Whether each frame has a gyro that can be believed."""
        believed = []
        for end_s, ax, ay, az, gx, gy, gz, with_gyro in self._pending.rows.take(ends, axis=1).T.tolist():
            if with_gyro and self._gyro.follow([gx, gy, gz], [ax, ay, az]):
                self._gyro_hung_s = end_s
                self._intake.say("gyro", end_s)
            believed.append(bool(with_gyro) and not self._gyro.hangs)
        return believed

    def _take(self, estimate: FrameEstimate) -> None:
        now = estimate.end_s
        seen_s = estimate.duration_s - estimate.lost_s  # a hole is no zeros
        self._intake.watch_frame(now, seen_s, estimate.low_m_s2, estimate.high_m_s2)
        self._watch_mishaps(estimate)
        if (
            self._gyro_hung_s is not None and now >= self._gyro_hung_s
        ):  # the turning it told last was no turning
            self._gyro_hung_s = None
            self._begin_afresh(now)
        if self._jumps is None:
            self._decided += [Decided(now, event) for event in self._reps.step(estimate)]
            may_decide = self._reps.rising
        else:
            self._decided += [Decided(now, jump) for jump in self._jumps.step(estimate)]
            may_decide = estimate.stillness != Stillness.ALONE
        self._live.append((now, estimate.velocity_m_s))
        self._held.follow(estimate, may_decide=may_decide)

    def _watch_mishaps(self, estimate: FrameEstimate) -> None:
        with_gyro = estimate.with_gyro
        felt = (0.0, 0.0, 0.0) if with_gyro else _middle(estimate)
        trouble = self._mishaps.follow(
            estimate.end_s, estimate.duration_s, estimate.force_m_s2, estimate.turn_rad, with_gyro, felt
        )
        if trouble is None:
            return
        self._decided.append(Decided(estimate.end_s, trouble))
        if (
            trouble.kind == "sensor_fell" or not with_gyro
        ):  # without a gyro a slip leaves no attitude to go on with
            self._begin_afresh(estimate.end_s)

    def _begin_afresh(self, now_s: float) -> None:
        """The attitude is lost: what moves until the bar rests is no rep."""
        self._estimate.restart()
        self._reps.fell(now_s)


def _middle(estimate: FrameEstimate) -> Three:
    """The middle of a frame's forces on the sensor's axes, m/s2."""
    x, y, z = ((low + high) / 2 for low, high in zip(estimate.low_m_s2, estimate.high_m_s2, strict=True))
    return x, y, z


def _jump_finder(estimate: MotionEstimate) -> JumpFinder:
    """With the splines it needs: a rack's start does not wait for them."""
    from station.motion.jumps import JumpFinder

    return JumpFinder(estimate)


def _assumptions(
    placement: Placement, lift: Lift | None, calibration: Calibration | None
) -> EngineParameters:
    if placement == "belt":
        return BELT_PARAMETERS
    assumed = UNCALIBRATED_PARAMETERS if calibration is None else EngineParameters()
    return assumed if lift else replace(assumed, gained_share=UNKNOWN_LIFT_GAINED_SHARE)


def _comes_back(placement: Placement, lift: Lift | None) -> ComesBack:
    """Tops and bottoms of a lift come back to one height, those of an unknown movement roughly, a belt's need not.

    A clean turns at several, but begins and ends on the floor.
    """
    if placement == "belt":
        return ComesBack()
    if lift is None:
        return ComesBack(top_m=0.10, bottom_m=0.10)
    return ComesBack(floor_m=0.01) if lift.first_pull_only else ComesBack(top_m=0.012, bottom_m=0.015)
