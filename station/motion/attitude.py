"""Rest on the sensor's own axes, and the attitude chain from frame to frame."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from math import cos, dist, sin, sqrt
from typing import NamedTuple

import numpy as np

from drivers.samples import FloatArray
from station.motion.frames import FrameStatistics, Three
from station.motion.parameters import STANDARD_GRAVITY_M_S2, EngineParameters

_RESTING_FORCE_M_S2 = 2.5


class Stillness(IntEnum):
    """How still the sensor is: moving, hovering about one place, held at rest, or left alone."""

    MOVING = 0
    HOVERING = 1
    HELD = 2
    ALONE = 3


class StillnessReading(NamedTuple):
    """Stillness over the last window, the spread of acceleration it was judged by, and how long it has lasted."""

    stillness: Stillness
    acc_spread_m_s2: float
    for_s: float


@dataclass
class RestWatch:
    """Judges stillness over the last frames by acceleration *and* rotation, and learns the gyro's bias at rest."""

    parameters: EngineParameters
    gyr_bias: Three = (0.0, 0.0, 0.0)
    bias_known: bool = False
    _window: deque[tuple[float, ...]] = field(default_factory=deque)
    _still_s: float = 0.0
    _alone_s: float = 0.0

    def judge(self, frames: FrameStatistics, row: int, with_gyro: bool) -> StillnessReading:
        """Take one more frame in and say how still the last window was."""
        duration = frames.duration_s[row]
        window = self._window
        window.append(_entry(frames, row))
        total = sum([w[0] for w in window])
        while len(window) > 2 and total - window[0][0] >= self.parameters.rest_window_s - 0.5 * duration:
            total -= window.popleft()[0]
        kind, acc_spread, gyr = self._looked_at(window, total, frames.longest_step_s[row])
        self._still_s = self._still_s + duration if kind >= Stillness.HELD else 0.0
        self._alone_s = self._alone_s + duration if kind == Stillness.ALONE else 0.0
        if with_gyro and kind == Stillness.ALONE and self._alone_s > 0.3:
            self._learn_bias(gyr, duration)
        return StillnessReading(kind, acc_spread, self._still_s)

    def judge_joined(self, frames: FrameStatistics, first: int, stop: int) -> StillnessReading | None:
        """Take several frames in that fill the window, as one; None, and nothing done, unless left alone in them."""
        entries = [_entry(frames, row) for row in range(first, stop)]
        total = sum([entry[0] for entry in entries])
        kind, acc_spread, gyr = self._looked_at(entries, total, 0.0)
        if kind != Stillness.ALONE:
            return None
        self._window = deque(entries)
        self._still_s += total
        self._alone_s += total
        for entry in entries:  # tells as much as one after the other
            self._learn_bias(gyr, entry[0])
        return StillnessReading(kind, acc_spread, self._still_s)

    @property
    def alone_s(self) -> float:
        """How long the sensor has been left alone, s."""
        return self._alone_s

    @property
    def before(self) -> tuple[float, ...]:
        """Mean force and rate of the last frame, six numbers."""
        return self._window[-1][1:7]

    def _looked_at(
        self, window: Sequence[tuple[float, ...]], total: float, longest_step: float
    ) -> tuple[Stillness, float, Three]:
        """How still a window is, its spread of acceleration, and its mean rotation."""
        (ax, ay, az), acc_spread, gyr, gyr_spread = _means_and_spreads(window)
        kind = self._kind(acc_spread, gyr_spread, gyr, total, longest_step)
        if abs(sqrt(ax * ax + ay * ay + az * az) - STANDARD_GRAVITY_M_S2) > _RESTING_FORCE_M_S2:
            kind = Stillness.MOVING  # falling feels still, too
        return kind, acc_spread, gyr

    def _kind(
        self, acc_spread: float, gyr_spread: float, gyr: Three, total: float, longest_step: float
    ) -> Stillness:
        p = self.parameters
        if total < p.rest_window_s - 0.03 or longest_step > 0.1:
            return Stillness.MOVING
        off = dist(gyr, self.gyr_bias) if self.bias_known else 0.0
        if acc_spread < p.hard_acc_m_s2 and gyr_spread < p.hard_gyr_rad_s and off < 2 * p.hard_gyr_rad_s:
            return Stillness.ALONE
        if acc_spread < p.soft_acc_m_s2 and gyr_spread < p.soft_gyr_rad_s and off < p.soft_gyr_rad_s:
            return Stillness.HELD
        if acc_spread < p.hover_acc_m_s2 and gyr_spread < p.hover_gyr_rad_s and off < 2 * p.hover_gyr_rad_s:
            return Stillness.HOVERING
        return Stillness.MOVING

    def _learn_bias(self, gyr: Three, duration: float) -> None:
        share = min(1.0, duration / 0.5) if self.bias_known else 1.0
        b = self.gyr_bias
        self.gyr_bias = (
            b[0] + share * (gyr[0] - b[0]),
            b[1] + share * (gyr[1] - b[1]),
            b[2] + share * (gyr[2] - b[2]),
        )
        self.bias_known = True


def _entry(frames: FrameStatistics, row: int) -> tuple[float, ...]:
    """What the window keeps of a frame."""
    duration, force, rate = frames.duration_s[row], frames.acc_variance[row], frames.gyr_variance[row]
    return (duration, *frames.means[row], force, rate)


def _means_and_spreads(window: Sequence[tuple[float, ...]]) -> tuple[Three, float, Three, float]:
    """Mean acceleration over the window and the spread about it, and the same of rotation."""
    n = len(window)
    ax = ay = az = acc = gx = gy = gz = gyr = 0.0
    for _, a, b, c, d, e, f, within, turning in window:
        ax, ay, az, acc = ax + a, ay + b, az + c, acc + within
        gx, gy, gz, gyr = gx + d, gy + e, gz + f, gyr + turning
    ax, ay, az, gx, gy, gz = ax / n, ay / n, az / n, gx / n, gy / n, gz / n
    for _, a, b, c, d, e, f, _, _ in window:
        a, b, c, d, e, f = a - ax, b - ay, c - az, d - gx, e - gy, f - gz
        acc += a * a + b * b + c * c
        gyr += d * d + e * e + f * f
    return (ax, ay, az), sqrt(acc / n), (gx, gy, gz), sqrt(gyr / n)


@dataclass
class AttitudeChain:
    """The sensor's attitude in the gyro's inertial frame, as a quaternion (w, x, y, z), frame by frame."""

    quaternion: tuple[float, float, float, float] = (1.0, 0.0, 0.0, 0.0)

    def turn(self, angle: FloatArray) -> FloatArray:
        """Attitude matrices (f + 1, 3, 3) at the start of each frame and the end of the last, turning by `angle`.

        Args:
            angle: each frame's rotation vector, shape (f, 3).
        """
        w, x, y, z = self.quaternion
        passed = [_matrix(w, x, y, z)]
        for ax, ay, az in angle.tolist():
            size = sqrt(ax * ax + ay * ay + az * az)
            half = sin(0.5 * size) / size if size > 0.0 else 0.5
            dw, dx, dy, dz = cos(0.5 * size), half * ax, half * ay, half * az
            w, x, y, z = (
                w * dw - x * dx - y * dy - z * dz,
                w * dx + x * dw + y * dz - z * dy,
                w * dy - x * dz + y * dw + z * dx,
                w * dz + x * dy - y * dx + z * dw,
            )
            scale = 1.0 / sqrt(w * w + x * x + y * y + z * z)
            w, x, y, z = w * scale, x * scale, y * scale, z * scale
            passed.append(_matrix(w, x, y, z))
        self.quaternion = w, x, y, z
        return np.array(passed).reshape(-1, 3, 3)


def _matrix(w: float, x: float, y: float, z: float) -> tuple[float, ...]:
    """Rotation matrix of a unit quaternion, row by row."""
    x2, y2, z2 = x + x, y + y, z + z
    wx, wy, wz = w * x2, w * y2, w * z2
    xx, xy, xz, yy, yz, zz = x * x2, x * y2, x * z2, y * y2, y * z2, z * z2
    return 1 - yy - zz, xy - wz, xz + wy, xy + wz, 1 - xx - zz, yz - wx, xz - wy, yz + wx, 1 - xx - yy


def rotated(matrix: FloatArray, vectors: FloatArray) -> FloatArray:
    """Vectors (3, f, m) turned by matrices (f, 3, 3), element by element."""
    parts = matrix.transpose(1, 2, 0)[..., None] * vectors
    return parts[:, 0] + parts[:, 1] + parts[:, 2]
