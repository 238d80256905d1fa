"""Frames made ready for the filters: what is told from the samples alone, turned into the inertial frame.

Arrays of many frames come in, plain numbers of one after the other go out: the filters take frames singly.
"""

from __future__ import annotations

from itertools import accumulate
from math import sqrt
from typing import NamedTuple

import numpy as np

from drivers.samples import FloatArray
from station.motion.attitude import AttitudeChain, RestWatch, StillnessReading, rotated
from station.motion.clipping import AtLimit
from station.motion.frames import (
    FrameStatistics,
    PaddedFrames,
    Three,
    integrals,
    rejoined,
    statistics,
    turned_within,
)
from station.motion.history import RecentRows
from station.motion.joining import JOINED_FRAMES, LIES_AFTER_S, calm_frames
from station.motion.parameters import EngineParameters
from station.motion.rotations import Turning

_SAMPLES_KEPT = 16384
_LEAST_HOLE_S = 0.012
_SLOWEST_S = (
    0.04  # half the slowest rate that is of any use: what is further apart at first has a hole between
)
_TURNS_UNSEEN_RAD_S = 1.0  # how differently a bar may turn in a hole from what is seen on both sides of it


class FrameStep(NamedTuple):
    """One frame, ready for the filters.

    Attributes:
        end_s, duration_s: of the frame.
        reading: stillness of the last window.
        dv, ds: single and double integral of specific force over the frame, in the inertial frame.
        turning: how the frame turns.
        turn_rad: its turn in the inertial frame; zero without a gyro.
        tilt_noise: variance of the unexplained tilt step, rad2.
        jolt_m_s: what its samples may have missed of shocks.
        lost_s: longest hole between its samples; 0 where they are spaced as usual.
        clipped, missed_m_s: samples at the range's limit, and what they may miss of the velocity step.
        low_m_s2, high_m_s2: smallest and largest value of each axis.
        force_m_s2: size of the mean specific force.
        with_gyro: whether it has rotation.
        sample_stop: running index after its last sample.
        frames: of the usual length that it stands for; more than one while the bar lies.
    """

    end_s: float
    duration_s: float
    reading: StillnessReading
    dv: Three
    ds: Three
    turning: Turning
    turn_rad: Three
    tilt_noise: float
    jolt_m_s: float
    lost_s: float
    clipped: int
    missed_m_s: float
    low_m_s2: list[float]
    high_m_s2: list[float]
    force_m_s2: float
    with_gyro: bool
    sample_stop: int
    frames: int


class _Judged(NamedTuple):
    """Stillness after one frame, or several joined, with the gyro's bias and drift that were known before it."""

    frames: int
    reading: StillnessReading
    gyr_bias: Three
    drift_rad_rts: float


class FrameSteps:
    """Makes frames ready; keeps their samples for decisions.

    Attributes:
        samples: the recent past, time and force in the inertial frame, shape (n, 4).
    """

    def __init__(self, parameters: EngineParameters) -> None:
        self.parameters = parameters
        self.samples = RecentRows(4, _SAMPLES_KEPT)
        self._chain = AttitudeChain()
        self._watch = RestWatch(parameters)
        self._interval_s = 0.0

    def take(self, frames: PaddedFrames, clipped: list[AtLimit], with_gyro: list[bool]) -> list[FrameStep]:
        """Make frames of the usual length ready, those of a bar that lies joined.

        The last few may be left for the next time: whether they are to be joined is not known yet.

        Args:
            frames: consecutive frames.
            clipped, with_gyro: what is at the range's limit in each, and whether each has rotation.
        """
        seen = statistics(frames)
        judged = self._judge(seen, clipped, with_gyro)
        if not judged:
            return []
        if len(judged) < len(with_gyro):
            counts = [one.frames for one in judged]
            frames = rejoined(frames, counts)
            seen = statistics(frames)
            firsts = [*accumulate(counts[:-1], initial=0)]
            clipped, with_gyro = [clipped[at] for at in firsts], [with_gyro[at] for at in firsts]
        bias = np.array([one.gyr_bias for one in judged])
        force, angle = turned_within(frames, bias)
        attitude = self._chain.turn(angle)
        force = rotated(attitude[:-1], force)
        self._keep_samples(frames, force)
        dv, ds = (integral.tolist() for integral in integrals(frames.time_s, force))
        rates_before, rates_after = _rates_at_ends(frames, bias)
        attitudes, angles = attitude.tolist(), angle.tolist()
        stop = len(self.samples) - sum(seen.samples)
        steps = []
        for row, (duration, before) in enumerate(zip(seen.duration_s, judged, strict=True)):
            turning = Turning(attitudes[row], attitudes[row + 1], rates_before[row], rates_after[row])
            lost = self._hole(seen, row)
            x, y, z = angles[row]
            ax, ay, az, *_ = seen.means[row]
            stop += seen.samples[row]
            steps.append(
                FrameStep(
                    seen.end_time_s[row],
                    duration,
                    before.reading,
                    dv[row],
                    ds[row],
                    turning,
                    turning.in_inertial_frame(x, y, z),
                    before.drift_rad_rts**2 * duration
                    + (self.parameters.tilt_turn**2) * (x * x + y * y + z * z)
                    + (_TURNS_UNSEEN_RAD_S * lost * min(lost / 0.3, 1.0)) ** 2,
                    seen.jolt_m_s[row],
                    lost,
                    *clipped[row],
                    seen.acc_low_m_s2[row],
                    seen.acc_high_m_s2[row],
                    sqrt(ax * ax + ay * ay + az * az),
                    with_gyro[row],
                    stop,
                    before.frames,
                )
            )
        return steps

    def _judge(self, seen: FrameStatistics, clipped: list[AtLimit], with_gyro: list[bool]) -> list[_Judged]:
        """One after the other, as far as is known by now."""
        judged: list[_Judged] = []
        row = 0
        while row < len(with_gyro):
            bias = self._watch.gyr_bias
            drift = self._drift(has_gyro=with_gyro[row], bias_known=self._watch.bias_known)
            count, reading = self._stillness(seen, row, clipped, with_gyro)
            if reading is None:
                break
            judged.append(_Judged(count, reading, bias, drift))
            row += count
        return judged

    def _stillness(
        self, seen: FrameStatistics, row: int, clipped: list[AtLimit], with_gyro: list[bool]
    ) -> tuple[int, StillnessReading | None]:
        """Of how many frames from this row on one is made, and how still it is; None: it depends on what comes."""
        watch = self._watch
        if watch.alone_s > LIES_AFTER_S:
            calm = calm_frames(seen, row, watch.before, with_gyro, clipped)
            if calm > JOINED_FRAMES:
                joined = watch.judge_joined(seen, row, row + JOINED_FRAMES)
                if joined is not None:
                    return JOINED_FRAMES, joined
            elif row + calm == len(with_gyro):
                return 0, None
        return 1, watch.judge(seen, row, with_gyro[row])

    def _drift(self, *, has_gyro: bool, bias_known: bool) -> float:
        """Drift of the attitude per root second, rad."""
        p = self.parameters
        if not has_gyro:
            return p.tilt_walk_blind_rad_rts
        return p.tilt_walk_rad_rts if bias_known else 10 * p.tilt_walk_rad_rts

    def _hole(self, seen: FrameStatistics, row: int) -> float:
        """The longest hole between samples of a frame, s; 0 where they are spaced as usual."""
        longest, interval = seen.longest_step_s[row], seen.duration_s[row] / seen.samples[row]
        usual = min(self._interval_s or interval, _SLOWEST_S)
        if longest > max(2.5 * usual, _LEAST_HOLE_S):
            return longest
        self._interval_s = interval
        return 0.0

    def _keep_samples(self, frames: PaddedFrames, force: FloatArray) -> None:
        rows = self.samples.room(frames.row.shape[1] - 1)
        rows[:, 0] = frames.row[0, 1:]
        if len(frames.samples) == 1:
            rows[:, 1:] = force[:, 0, 1:].T
        else:
            real = np.arange(1, frames.time_s.shape[1]) <= frames.samples[:, None]
            rows[:, 1:] = force[:, :, 1:][:, real].T
        self.samples.grow(len(rows))


def _rates_at_ends(frames: PaddedFrames, bias: FloatArray) -> tuple[list[Three], list[Three]]:
    """Angular rate at the start and the end of each frame, without the bias, rad/s."""
    ends = frames.gyr_rad_s[:3, :, :: frames.time_s.shape[1] - 1] - bias.T[:, :, None]
    before, after = ends.transpose(2, 1, 0).tolist()
    return before, after
