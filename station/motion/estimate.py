"""The running estimate, frame by frame: up, height and vertical velocity, kept for decisions."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from drivers.samples import FloatArray
from station.motion.attitude import Stillness
from station.motion.clipping import AtLimit
from station.motion.closure import Closure, ComesBack
from station.motion.columns import Column
from station.motion.frame_estimate import FrameEstimate
from station.motion.frames import PaddedFrames
from station.motion.history import RecentRows
from station.motion.landing import LandingWatch
from station.motion.live import VerticalFilter, VerticalStep
from station.motion.parameters import STANDARD_GRAVITY_M_S2, EngineParameters
from station.motion.rest import RestAssumption
from station.motion.steps import FrameStep, FrameSteps
from station.motion.tilt_filter import TiltFilter
from station.motion.vertical_step import StepNoise, vertical_step

CHUNK_FRAMES = 64
_TILT_BELIEF = 0.5  # share of the causal tilt variance that is left once smoothed
_ALONE_FOR_S = 2.0  # a bar that lay so long may be lifted to another height


class MotionEstimate:
    """The running estimate and its recent past.

    Args:
        parameters: the engine's assumptions.
        comes_back: how well the movement comes back to its heights.

    Attributes:
        since: first frame of the stretch that can be looked at as a whole.
        mid_rise, may_creep: set by whoever follows the movement: the bar is half-way up, beyond doubt; it may be.
        came_up: likewise: it has risen as far as it does.
        frames, samples: the past a decision looks back on (columns: `Column`; time and force).
    """

    def __init__(self, parameters: EngineParameters, comes_back: ComesBack) -> None:
        self.parameters = parameters
        keep = 2 * CHUNK_FRAMES + int(parameters.history_s / parameters.frame_s)
        self.frames = RecentRows(Column.WIDTH, keep)
        self._steps = FrameSteps(parameters)
        self.samples = self._steps.samples
        self._noise = StepNoise(parameters)
        self._tilt = TiltFilter(parameters)
        self._vertical = VerticalFilter(parameters)
        self._rest = RestAssumption(parameters)
        self._landing = LandingWatch()
        self._closure = Closure(self.frames, self._vertical, comes_back, parameters.frame_s)
        self.since = 0
        self.mid_rise = self.may_creep = self.came_up = False
        self._lost = False
        self._joined_until = self._counted = 0

    def take(
        self, frames: PaddedFrames, clipped: list[AtLimit], with_gyro: list[bool]
    ) -> Iterator[FrameEstimate]:
        """Take frames in; yields after each of them, or of those that were joined, when it is the newest in the
        history. The last few may be left for the next time.

        Args:
            frames: consecutive frames.
            clipped: what is at the range's limit in each.
            with_gyro: whether each frame has rotation.
        """
        for frame in self._steps.take(frames, clipped, with_gyro):
            line = self.frames.room(1)[0]
            self._counted += frame.frames
            if frame.frames > 1:
                self._joined_until = len(self.frames) + 1
            if frame.lost_s > self.parameters.reset_gap_s:
                yield self._skip(frame, line)
                continue
            resting = self._take_one(frame, line)
            self.frames.grow(1)
            yield FrameEstimate(
                frame.end_s,
                frame.duration_s,
                self._vertical.velocity,
                self._vertical.height,
                frame.reading.stillness,
                resting,
                frame.lost_s,
                frame.low_m_s2,
                frame.high_m_s2,
                frame.force_m_s2,
                frame.turn_rad,
                frame.with_gyro,
                frame.frames,
            )

    def _take_one(self, frame: FrameStep, line: FloatArray) -> bool:
        """One frame through the filters, and its row in the history; whether rest was assumed."""
        line[Column.STATE :] = self._vertical.believed.reshape(-1)
        spread_before = self._tilt.spread
        noise, shock_m_s = self._noise.of(frame)
        self._closure.shocks.note(len(self.frames), shock_m_s)
        t, blind = frame.duration_s, not frame.with_gyro
        self._tilt.predict(frame.dv, t, noise, frame.tilt_noise, blind=blind)
        up = self._tilt.up
        # a tilted "up" reads too little, by g tilt^2 / 2 on either axis: in the mean, and as noise that lasts
        missing = _TILT_BELIEF * STANDARD_GRAVITY_M_S2 * self._tilt.tilt_variance
        line[Column.MOVE : Column.STATE] = frame.turning.move(up, t)
        wander = self._wander(frame.lost_s)
        step = vertical_step(frame, up, missing, line[Column.MOVE : Column.STATE], noise, wander)
        self._vertical.predict(step)
        blow = 0.0 if frame.lost_s else frame.jolt_m_s  # a hole may hide none
        rest = self._assume_rest(frame, step, blow)
        lies = rest > 0 and frame.reading.stillness == Stillness.ALONE
        # a bar that grinds to a halt half-way up is at neither end
        may_grind = self.may_creep and not self._lost  # after a hole nobody knows which way it went
        turned = (
            (0.0, 0.0) if self.mid_rise else self._closure.back(self.since, lies=lies, may_grind=may_grind)
        )
        line[: Column.MOVE] = [
            frame.end_s,
            t,
            *frame.dv,
            *frame.ds,
            *up,
            noise,
            rest,
            frame.sample_stop,
            frame.lost_s,
            frame.clipped,
            frame.reading.stillness,
            *turned,
            *frame.turn_rad,
            *self._tilt.place_m,
            *spread_before,
            frame.tilt_noise,
            blind,
            step.velocity_noise,
            missing,
            self._counted,
            wander,
        ]  # in the order of `Column`
        return rest > 0

    def frames_ago(self, count: int) -> int:
        """Running index of the frame so many frames of the usual length before the next one."""
        now = len(self.frames)
        if now - count >= self._joined_until:
            return now - count
        counted = self.frames.view(0, now)[:, Column.FRAMES]
        return now - len(counted) + int(counted.searchsorted(self._counted - count, side="right"))

    @property
    def height_variance(self) -> float:
        """Of the running height, m2."""
        return self._vertical.covariance.item(0)

    def restart(self) -> None:
        """Nothing is known of velocity and attitude any more: the sensor fell, or a hole in the data."""
        self._vertical.restart()
        self._tilt.restart()
        self._lost = True
        self.since = len(self.frames)

    def _skip(self, frame: FrameStep, line: FloatArray) -> FrameEstimate:
        """A frame with a hole too long to reach across: what comes after starts afresh."""
        line[:] = 0.0
        line[Column.END_S], line[Column.DURATION_S] = frame.end_s, frame.duration_s
        line[Column.SAMPLE_STOP], line[Column.FRAMES] = frame.sample_stop, self._counted
        self.frames.grow(1)
        self.restart()
        none = (0.0, 0.0, 0.0)
        moving, lost = Stillness.MOVING, frame.duration_s
        return FrameEstimate(
            frame.end_s, frame.duration_s, 0.0, 0.0, moving, False, lost, [*none], [*none], 9.8, none, False
        )

    def _assume_rest(self, frame: FrameStep, step: VerticalStep, blow_m_s: float) -> float:
        reading = frame.reading
        shock = self._closure.shocks.spoilt_m_s
        landed = self._landed(step, blow_m_s)
        rest = self._rest.sigma(
            reading,
            self._vertical,
            self._tilt,
            step,
            shock,
            mid_rise=self.mid_rise,
            may_creep=self.may_creep,
            lost=self._lost,
            came_up=self.came_up,
        )
        rest = (rest or landed) / sqrt(frame.frames)  # several at once tell as much as one after the other
        if rest > 0:
            self._lost = False
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
        """Spread of zero velocity about a bar that was put down hard and lies still, m/s; 0: it does not.

        One that is pulled at once lay still at the blow's end: that is noted there, in the past.
        """
        vertical, t = self._vertical, step.duration_s
        if not self._landing.struck(blow_m_s, vertical.velocity, t):
            return 0.0
        gain = step.dv_m_s - t * vertical.acceleration_offset(step)[0]
        landing = self._landing.told(vertical.velocity, sqrt(vertical.velocity_variance), gain, t)
        if landing is None or landing.frames_ago == 0:
            return landing.sigma_m_s if landing else 0.0
        vertical.moves_at(landing.gained_m_s, landing.sigma_m_s)
        frame = len(self.frames) - landing.frames_ago
        if frame >= self.since:
            self.frames.view(frame, frame + 1)[:, Column.REST] = landing.sigma_m_s
        return 0.0

    def _wander(self, lost_s: float) -> float:
        """How far the bar strays from where it lay, m over a second."""
        self._lost = self._lost or lost_s > 0
        return self.parameters.lost_wander_m if self._lost else self.parameters.wander_m
