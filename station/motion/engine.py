"""The streaming motion engine: samples in, repetitions, jumps and troubles out.

One engine serves live capture and replay. It works on frames whose borders depend on sample times alone, so the same
samples in blocks of any size give the same events, to the bit.
"""

from __future__ import annotations

import itertools

import numpy as np

from drivers.samples import FloatArray, IntArray, TimedBlock
from station.motion.attitude import AttitudeChain, RestWatch, Stillness, rotated
from station.motion.calibration import Calibration
from station.motion.curve import Column
from station.motion.events import MotionEvent, Placement
from station.motion.frames import (
    PaddedFrames,
    frame_ends,
    integrals,
    padded,
    statistics,
    turned_within,
)
from station.motion.history import RecentRows
from station.motion.intake import CleanSamples, Decided, Intake
from station.motion.judge import Judge
from station.motion.live import STATES, TiltFollower, VerticalFilter, rest_sigma
from station.motion.parameters import STANDARD_GRAVITY_M_S2, EngineParameters
from station.motion.reps import RepFinder
from station.squad.lifts import Lift

_CHUNK_FRAMES = 64
_SAMPLES_KEPT = 16384
_TILT_WITH_GYRO_S = 2.5
_TILT_WITHOUT_GYRO_S = 0.4


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
        self.parameters = parameters or EngineParameters()
        self._calibration = calibration or Calibration()
        self._intake = Intake(range_m_s2)
        self._pending = _Pending()
        keep = 2 * _CHUNK_FRAMES + int(self.parameters.history_s / self.parameters.frame_s)
        self._frames = RecentRows(Column.WIDTH, keep)
        self._samples = RecentRows(4, _SAMPLES_KEPT)
        self._chain = AttitudeChain()
        self._rest = RestWatch(self.parameters, True)
        self._tilt = TiltFollower(_TILT_WITH_GYRO_S)
        self._vertical = VerticalFilter(self.parameters)
        self._reps = RepFinder(Judge(lift, usual_range_m), self.parameters, self._frames, self._samples)
        self._live: list[tuple[float, float]] = []
        self._decided: list[Decided] = []

    def feed(self, block: TimedBlock) -> list[MotionEvent]:
        """Take samples in; what they decided."""
        if len(block):
            clean = self._intake.take(block)
            if len(clean.time_s):
                self._pending.add(clean, self._calibration.apply(clean.acc_m_s2))
                self._close_frames()
        return self._events()

    def advance(self, now_s: float) -> list[MotionEvent]:
        """Time passes without samples; `now_s` on the recovered clock."""
        if self._intake.pass_time(now_s):
            self._decided += [Decided(now_s, event) for event in self._reps.silent(now_s)]
        return self._events()

    def finish(self) -> list[MotionEvent]:
        """The stream is over: say what is still open."""
        self._intake.close()
        now = self._intake.last_time_s or 0.0
        self._decided += [Decided(now, event) for event in self._reps.end_set(now, "end of recording")]
        return self._events()

    def live(self) -> tuple[FloatArray, FloatArray]:
        """Time (s) and causal vertical velocity (m/s) since the last call, one value a frame: for the trace only."""
        recent, self._live = self._live, []
        values = np.array(recent).reshape(-1, 2)
        return values[:, 0], values[:, 1]

    def new_set(self, usual_range_m: float | None = None) -> None:
        """A set starts now: numbering starts at 1, with this usual range of motion, if known."""
        self._reps.new_set(usual_range_m)

    def end_set(self) -> list[MotionEvent]:
        """The set was ended by hand: no set end is reported for it again."""
        self._reps.new_set(self._reps.judge.given_range_m)
        return []

    def _events(self) -> list[MotionEvent]:
        decided = sorted([*self._intake.drain(), *self._decided], key=lambda d: d.time_s)
        self._decided = []
        return [d.event for d in decided]

    def _close_frames(self) -> None:
        pending = self._pending
        ends = frame_ends(pending.time_s, self.parameters.frame_s)
        for first in range(0, len(ends) - 1, _CHUNK_FRAMES):
            part = ends[first : first + _CHUNK_FRAMES + 1]
            frames = padded(pending.time_s, pending.acc_m_s2, pending.gyr_rad_s, part)
            self._take_frames(frames, pending, part)
        pending.drop(int(ends[-1]))

    def _take_frames(self, frames: PaddedFrames, pending: _Pending, ends: IntArray) -> None:
        seen = statistics(frames)
        biases, readings = [], []
        for row in range(len(seen.samples)):
            biases.append(self._rest.gyr_bias)
            readings.append(self._rest.judge(seen, row))
        force, angle = turned_within(frames, np.array(biases))
        attitude = self._chain.turn(angle)
        force = rotated(attitude, force)
        dv, ds = integrals(frames.time_s, force)
        real = np.arange(1, frames.time_s.shape[1]) <= frames.samples[:, None]
        sample_stop = len(self._samples) + np.cumsum(frames.samples)
        self._samples.append(np.concatenate([frames.time_s[:, 1:, None], force[:, 1:]], axis=2)[real])
        lows, highs = seen.acc_low_m_s2.tolist(), seen.acc_high_m_s2.tolist()
        with_gyro = pending.with_gyro[ends[1:]].tolist()
        clipped = [int(pending.clipped[a + 1 : b + 1].sum()) for a, b in itertools.pairwise(ends)]
        for row, reading in enumerate(readings):
            now = float(seen.end_time_s[row])
            duration = float(seen.duration_s[row])
            self._intake.watch_frame(now, duration, lows[row], highs[row])
            self._tilt.settling_s = _TILT_WITH_GYRO_S if with_gyro[row] else _TILT_WITHOUT_GYRO_S
            x, y, z = dv[row].tolist()
            self._tilt.follow((x, y, z), duration, reading.stillness)
            up = self._tilt.up
            rise = x * up[0] + y * up[1] + z * up[2] - STANDARD_GRAVITY_M_S2 * duration
            a, b, c = ds[row].tolist()
            double = a * up[0] + b * up[1] + c * up[2] - 0.5 * STANDARD_GRAVITY_M_S2 * duration**2
            vertical = self._vertical
            on_axes = up[0] * attitude[row, 0] + up[1] * attitude[row, 1] + up[2] * attitude[row, 2]
            line = np.empty(Column.WIDTH)
            line[Column.STATE : Column.STATE + STATES] = vertical.state
            line[Column.COVARIANCE :] = vertical.covariance.ravel()
            longest = float(seen.longest_step_s[row])
            lost = (
                longest
                if longest > 3 * duration / max(int(seen.samples[row]), 1) and longest > 0.012
                else 0.0
            )
            noise = self._noise(duration, float(seen.largest_force_m_s2[row]), lost, clipped[row])
            vertical.predict(rise, double, duration, on_axes, noise)
            if lost > self.parameters.reset_gap_s:
                vertical.lost()
            rest = rest_sigma(reading, vertical, rise / duration, on_axes, self.parameters)
            if rest > 0:
                vertical.at_rest(rest)
            line[: Column.STATE] = (now, duration, x, y, z, a, b, c, *up, noise, rest, sample_stop[row])
            line[Column.UP_ON_AXES : Column.LOST_S] = on_axes
            line[Column.LOST_S : Column.COVARIANCE] = (lost, clipped[row], reading.stillness)
            self._frames.append(line[None])
            found = self._reps.step(vertical.velocity, vertical.height, reading.stillness, rest, lost)
            self._decided += [Decided(now, event) for event in found]
            self._live.append((now, vertical.velocity))
            if reading.stillness == Stillness.ALONE and reading.for_s > 2.0:
                vertical.forget_height()

    def _noise(self, duration: float, largest_force: float, lost_s: float, clipped: int) -> float:
        """Variance of the unexplained velocity step of one frame."""
        p = self.parameters
        shock = p.shock_share * max(largest_force - STANDARD_GRAVITY_M_S2 - 15.0, 0.0) * 0.02
        hole = 1.5 * lost_s * min(lost_s / 0.1, 1.0)
        return p.acc_walk_m_s2_rthz**2 * duration + shock**2 + hole**2 + (0.1 * (clipped > 0)) ** 2


class _Pending:
    """Samples not yet in a closed frame, beginning with the one that closed the last."""

    def __init__(self) -> None:
        self.time_s = np.empty(0)
        self.acc_m_s2 = np.empty((0, 3))
        self.gyr_rad_s = np.empty((0, 3))
        self.with_gyro = np.empty(0, dtype=np.bool_)
        self.clipped = np.empty(0, dtype=np.bool_)

    def add(self, clean: CleanSamples, acc: FloatArray) -> None:
        """Append clean samples with their calibrated force."""
        self.time_s = np.concatenate([self.time_s, clean.time_s])
        self.acc_m_s2 = np.concatenate([self.acc_m_s2, acc])
        self.gyr_rad_s = np.concatenate([self.gyr_rad_s, clean.gyr_rad_s])
        self.with_gyro = np.concatenate([self.with_gyro, np.full(len(acc), clean.with_gyro)])
        self.clipped = np.concatenate([self.clipped, clean.clipped])

    def drop(self, count: int) -> None:
        """Forget the first `count` samples."""
        self.time_s = self.time_s[count:]
        self.acc_m_s2 = self.acc_m_s2[count:]
        self.gyr_rad_s = self.gyr_rad_s[count:]
        self.with_gyro = self.with_gyro[count:]
        self.clipped = self.clipped[count:]
