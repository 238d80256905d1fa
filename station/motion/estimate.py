"""From frames of samples to the running estimate: attitude, up, height and vertical velocity, kept for decisions."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from drivers.samples import FloatArray, IntArray
from station.motion.attitude import AttitudeChain, RestWatch, Stillness, StillnessReading, rotated
from station.motion.closure import Closure
from station.motion.curve import Column
from station.motion.frames import FrameStatistics, PaddedFrames, integrals, statistics, turned_within
from station.motion.history import RecentRows
from station.motion.landing import LandingWatch
from station.motion.live import STATES, TiltFilter, VerticalFilter, VerticalStep
from station.motion.parameters import STANDARD_GRAVITY_M_S2, EngineParameters
from station.motion.rest import RestAssumption
from station.motion.rotations import Rotations

CHUNK_FRAMES = 64
_SAMPLES_KEPT = 16384
_TILT_BELIEF = 0.5  # share of the causal tilt variance that is left once smoothed
_TILT_LASTS_S = 0.3
_LEAST_HOLE_S = 0.012
_ALONE_FOR_S = 2.0  # a bar that lay so long may be lifted to another height
_TURNS_UNSEEN_RAD_S = 1.0  # how differently a bar may turn in a hole from what is seen on both sides of it
_CLIPPED_M_S = 0.1  # what a frame with samples at the range's limit may miss


@dataclass(frozen=True, slots=True)
class FrameEstimate:
    """What is known at a frame's end.

    Attributes:
        end_s, duration_s: of the frame.
        velocity_m_s, height_m: causal estimate.
        stillness: of the last window.
        resting: zero velocity was assumed.
        lost_s: longest hole in the frame, s.
        low_m_s2, high_m_s2: smallest and largest value of each axis.
        force_m_s2: size of the mean specific force.
        turn_rad: the frame's turn in the inertial frame, shape (3,); zero without a gyro.
    """

    end_s: float
    duration_s: float
    velocity_m_s: float
    height_m: float
    stillness: Stillness
    resting: bool
    lost_s: float
    low_m_s2: list[float]
    high_m_s2: list[float]
    force_m_s2: float
    turn_rad: FloatArray
    with_gyro: bool


class MotionEstimate:
    """The running estimate and its recent past.

    Args:
        parameters: the engine's assumptions.
        closes: how well a movement's tops and bottoms come back to one height, m; None: they need not.

    Attributes:
        since: first frame of the stretch that can be looked at as a whole.
        mid_rise: set by whoever follows the movement: the bar is half-way up.
        frames, samples: the past a decision looks back on (columns: `Column`; time and force).
    """

    def __init__(self, parameters: EngineParameters, closes: tuple[float, float] | None) -> None:
        self.parameters = parameters
        keep = 2 * CHUNK_FRAMES + int(parameters.history_s / parameters.frame_s)
        self.frames = RecentRows(Column.WIDTH, keep)
        self.samples = RecentRows(4, _SAMPLES_KEPT)
        self._chain = AttitudeChain()
        self._watch = RestWatch(parameters)
        self._tilt = TiltFilter(parameters)
        self._vertical = VerticalFilter(parameters)
        self._rest = RestAssumption(parameters)
        self._landing = LandingWatch()
        self._closure = Closure(self.frames, self._vertical, closes, parameters.frame_s)
        self._interval_s = 0.0
        self._stops: IntArray = np.zeros(0, dtype=np.int64)
        self._up = np.zeros(3)
        self.since = 0
        self.mid_rise = False
        self._missing = 0.0

    def take(
        self, frames: PaddedFrames, clipped: IntArray, with_gyro: NDArray[np.bool_]
    ) -> Iterator[FrameEstimate]:
        """Take frames in; yields after each of them, when it is the newest in the history.

        Args:
            frames: consecutive frames.
            clipped: samples at the range limit in each, shape (f,).
            with_gyro: whether each frame has rotation, shape (f,).
        """
        seen = statistics(frames)
        biases, readings, bias_known = [], [], []
        for row in range(len(seen.samples)):
            biases.append(self._watch.gyr_bias)
            bias_known.append(self._watch.bias_known)
            readings.append(self._watch.judge(seen, row, bool(with_gyro[row])))
        bias = np.array(biases)
        force, angle = turned_within(frames, bias)
        attitude = self._chain.turn(angle)
        force = rotated(attitude[:-1], force)
        self._keep_samples(frames, force)
        self._stops = len(self.samples) - int(frames.samples.sum()) + np.cumsum(frames.samples)
        rates = frames.gyr_rad_s[:, 0] - bias, frames.gyr_rad_s[:, -1] - bias
        turns = Rotations(
            attitude,
            angle,
            *rates,
            np.array([self._tilt_walk(*k) for k in zip(with_gyro, bias_known, strict=True)]),
            with_gyro,
        )
        dv, ds = integrals(frames.time_s, force)
        lines = self._lines(seen, dv, ds, turns, clipped)
        ends = lines[:, [Column.END_S, Column.DURATION_S]].tolist()
        forces = np.sqrt((seen.mean_acc_m_s2**2).sum(axis=1)).tolist()
        lows, highs = seen.acc_low_m_s2.tolist(), seen.acc_high_m_s2.tolist()
        for row, reading in enumerate(readings):
            lost = self._hole(seen, row)
            if lost > self.parameters.reset_gap_s:
                yield self._skip(seen, row)
                continue
            line = lines[row]
            resting = self._take_one(seen, row, reading, turns, line, lost)
            self.frames.append(line[None])
            yield FrameEstimate(
                ends[row][0],
                ends[row][1],
                self._vertical.velocity,
                self._vertical.height,
                reading.stillness,
                resting,
                lost,
                lows[row],
                highs[row],
                forces[row],
                line[Column.TURN : Column.PLACE],
                bool(with_gyro[row]),
            )

    def _lines(
        self, seen: FrameStatistics, dv: FloatArray, ds: FloatArray, turns: Rotations, clipped: IntArray
    ) -> FloatArray:
        """History rows with what is known of all frames at once."""
        lines = np.zeros((len(dv), Column.WIDTH))
        lines[:, Column.END_S], lines[:, Column.DURATION_S] = seen.end_time_s, seen.duration_s
        lines[:, Column.DV : Column.DS], lines[:, Column.DS : Column.UP] = dv, ds
        lines[:, Column.SAMPLE_STOP], lines[:, Column.CLIPPED] = self._stops, clipped
        lines[:, Column.TURN : Column.PLACE] = rotated(turns.attitude[:-1], turns.angle[:, None])[:, 0]
        lines[:, Column.TILT_NOISE] = turns.tilt_noise(seen.duration_s, self.parameters.tilt_turn)
        lines[:, Column.BLIND] = ~turns.with_gyro
        return lines

    def _take_one(
        self,
        seen: FrameStatistics,
        row: int,
        reading: StillnessReading,
        turns: Rotations,
        line: FloatArray,
        lost_s: float,
    ) -> bool:
        """One frame through the filters, its row completed; whether rest was assumed."""
        line[Column.PLACE_SPREAD : Column.TILT_NOISE] = self._tilt.spread
        line[Column.STATE : Column.STATE + STATES] = self._vertical.state
        line[Column.COVARIANCE :] = self._vertical.covariance.ravel()
        noise = self._noise(seen, row, lost_s, int(line[Column.CLIPPED]))
        line[Column.TILT_NOISE] += (_TURNS_UNSEEN_RAD_S * lost_s * min(lost_s / 0.3, 1.0)) ** 2
        step = self._predict(row, turns, line, noise)
        blow = 0.0 if lost_s else float(seen.jolt_m_s[row])  # a hole may hide none
        rest = self._assume_rest(reading, step, blow)
        line[Column.UP : Column.NOISE] = self._up
        line[Column.NOISE], line[Column.REST] = noise, rest
        line[Column.LOST_S], line[Column.STILLNESS] = lost_s, reading.stillness
        if not self.mid_rise:  # a bar that grinds to a halt half-way up is at neither end
            line[Column.TOP_SIGMA : Column.TURN] = self._closure.turn(self.since)
        line[Column.PLACE : Column.PLACE_SPREAD] = self._tilt.place_m
        line[Column.VERTICAL_NOISE], line[Column.MISSING] = step.velocity_noise, self._missing
        line[Column.ON_VELOCITY : Column.ON_HEIGHT] = step.on_velocity
        line[Column.ON_HEIGHT : Column.STATE] = step.on_height
        return rest > 0

    @property
    def height_variance(self) -> float:
        """Of the running height, m2."""
        return float(self._vertical.covariance[0, 0])

    def restart(self) -> None:
        """Nothing is known of velocity and attitude any more: the sensor fell, or a hole in the data."""
        self._vertical.restart()
        self._tilt.restart()
        self.since = len(self.frames)

    def _hole(self, seen: FrameStatistics, row: int) -> float:
        """The longest hole between samples of a frame, s; 0 where they are spaced as usual."""
        longest, count = float(seen.longest_step_s[row]), int(seen.samples[row])
        usual = self._interval_s or float(seen.duration_s[row]) / count
        if longest > max(2.5 * usual, _LEAST_HOLE_S):
            return longest
        self._interval_s = float(seen.duration_s[row]) / count
        return 0.0

    def _skip(self, seen: FrameStatistics, row: int) -> FrameEstimate:
        """A frame with a hole too long to reach across: what comes after starts afresh."""
        line = np.zeros(Column.WIDTH)
        line[Column.END_S], line[Column.DURATION_S] = seen.end_time_s[row], seen.duration_s[row]
        line[Column.SAMPLE_STOP] = self._stops[row]
        self.frames.append(line[None])
        self.restart()
        end, duration = float(seen.end_time_s[row]), float(seen.duration_s[row])
        nothing = [0.0, 0.0, 0.0]
        return FrameEstimate(
            end,
            duration,
            0.0,
            0.0,
            Stillness.MOVING,
            False,
            duration,
            nothing,
            nothing,
            9.8,
            np.zeros(3),
            False,
        )

    def _keep_samples(self, frames: PaddedFrames, force: FloatArray) -> None:
        real = np.arange(1, frames.time_s.shape[1]) <= frames.samples[:, None]
        self.samples.append(np.concatenate([frames.time_s[:, 1:, None], force[:, 1:]], axis=2)[real])

    def _predict(self, row: int, turns: Rotations, line: FloatArray, noise: float) -> VerticalStep:
        t = float(line[Column.DURATION_S])
        dv, ds = line[Column.DV : Column.DS], line[Column.DS : Column.UP]
        blind = bool(line[Column.BLIND])
        self._tilt.predict(dv, t, noise, float(line[Column.TILT_NOISE]), blind=blind)
        self._up = self._tilt.up
        # a tilted "up" reads too little, by g tilt^2 / 2 on either axis: in the mean, and as noise that lasts
        gravity = STANDARD_GRAVITY_M_S2
        self._missing = _TILT_BELIEF * gravity * self._tilt.spread[2] ** 2
        noise += self._missing**2 * _TILT_LASTS_S * t
        gravity -= self._missing
        rise, double = float(dv @ self._up) - gravity * t, float(ds @ self._up) - 0.5 * gravity * t * t
        on_velocity, on_height = turns.constants(row, self._up, t)
        step = VerticalStep(t, rise, double, on_velocity, on_height, noise)
        self._vertical.predict(step)
        return step

    def _assume_rest(self, reading: StillnessReading, step: VerticalStep, blow_m_s: float) -> float:
        shock = self._closure.shocks.spoilt_m_s
        landed = self._landed(step, blow_m_s)
        rest = self._rest.sigma(reading, self._vertical, self._tilt, step, shock, mid_rise=self.mid_rise)
        rest = rest or landed
        if rest > 0:
            self._closure.rests(rest)
            self._vertical.at_rest(rest)
            self._tilt.at_rest(2 * rest)
            self._closure.shocks.rested()
        if reading.stillness == Stillness.ALONE and reading.for_s > _ALONE_FOR_S:
            if reading.for_s - step.duration_s <= _ALONE_FOR_S:
                self._closure.forget(self.since)
            self._vertical.forget_height()
        return rest

    def _landed(self, step: VerticalStep, blow_m_s: float) -> float:
        vertical = self._vertical
        gain = step.dv_m_s - step.duration_s * vertical.acceleration_offset(step)[0]
        sd = sqrt(vertical.velocity_variance)
        return self._landing.sigma(blow_m_s, vertical.velocity, sd, gain, step.duration_s)

    def _noise(self, seen: FrameStatistics, row: int, lost_s: float, clipped: int) -> float:
        """Variance of the unexplained velocity step of one frame."""
        p = self.parameters
        jolt = float(seen.jolt_m_s[row])
        clip = _CLIPPED_M_S * (clipped > 0)
        self._closure.shocks.note(len(self.frames), jolt + clip)
        shock = p.shock_share * jolt
        hole = 1.5 * lost_s * min(lost_s / 0.1, 1.0)
        return p.acc_walk_m_s2_rthz**2 * float(seen.duration_s[row]) + shock**2 + hole**2 + clip**2

    def _tilt_walk(self, with_gyro: bool, bias_known: bool) -> float:
        """Drift of the attitude per root second, rad."""
        p = self.parameters
        if not with_gyro:
            return p.tilt_walk_blind_rad_rts
        return p.tilt_walk_rad_rts if bias_known else 10 * p.tilt_walk_rad_rts


def clipped_in(clipped: NDArray[np.bool_], ends: IntArray) -> IntArray:
    """Clipped samples of each frame, shape (f,)."""
    return np.array([int(clipped[a + 1 : b + 1].sum()) for a, b in itertools.pairwise(ends)], dtype=np.int64)
