"""Rest on the sensor's own axes, and the attitude chain from frame to frame."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from enum import IntEnum
from math import sqrt

import numpy as np

from drivers.samples import FloatArray
from station.motion.frames import FrameStatistics, cosine_part, sine_part
from station.motion.parameters import STANDARD_GRAVITY_M_S2, EngineParameters

_RESTING_FORCE_M_S2 = 2.5


class Stillness(IntEnum):
    """How still the sensor is: moving, hovering about one place, held at rest, or left alone."""

    MOVING = 0
    HOVERING = 1
    HELD = 2
    ALONE = 3


@dataclass(frozen=True, slots=True)
class StillnessReading:
    """Stillness over the last window, with the spreads it was judged by."""

    stillness: Stillness
    acc_spread_m_s2: float
    mean_acc_m_s2: tuple[float, float, float]
    for_s: float


@dataclass
class RestWatch:
    """Judges stillness over the last frames by acceleration *and* rotation, and learns the gyro's bias at rest."""

    parameters: EngineParameters
    gyr_bias: tuple[float, float, float] = (0.0, 0.0, 0.0)
    bias_known: bool = False
    _window: deque[tuple[float, ...]] = field(default_factory=deque)
    _still_s: float = 0.0
    _alone_s: float = 0.0

    def judge(self, frames: FrameStatistics, row: int, with_gyro: bool) -> StillnessReading:
        """Take one more frame in and say how still the last window was."""
        ax, ay, az = frames.mean_acc_m_s2[row].tolist()
        gx, gy, gz = frames.mean_gyr_rad_s[row].tolist()
        duration = float(frames.duration_s[row])
        window = self._window
        window.append(
            (
                duration,
                ax,
                ay,
                az,
                float(frames.acc_variance[row]),
                gx,
                gy,
                gz,
                float(frames.gyr_variance[row]),
            )
        )
        total = sum(w[0] for w in window)
        while len(window) > 2 and total - window[0][0] >= self.parameters.rest_window_s - 0.5 * duration:
            total -= window.popleft()[0]
        acc, acc_spread = _mean_and_spread(window, 1)
        gyr, gyr_spread = _mean_and_spread(window, 5)
        kind = self._kind(acc_spread, gyr_spread, gyr, total, float(frames.longest_step_s[row]))
        if abs(sqrt(acc[0] ** 2 + acc[1] ** 2 + acc[2] ** 2) - STANDARD_GRAVITY_M_S2) > _RESTING_FORCE_M_S2:
            kind = Stillness.MOVING  # falling feels still, too
        self._still_s = self._still_s + duration if kind >= Stillness.HELD else 0.0
        self._alone_s = self._alone_s + duration if kind == Stillness.ALONE else 0.0
        if with_gyro and kind == Stillness.ALONE and self._alone_s > 0.3:
            self._learn_bias(gyr, duration)
        return StillnessReading(kind, acc_spread, (acc[0], acc[1], acc[2]), self._still_s)

    def _kind(
        self, acc_spread: float, gyr_spread: float, gyr: list[float], total: float, longest_step: float
    ) -> Stillness:
        p = self.parameters
        if total < p.rest_window_s - 0.03 or longest_step > 0.1:
            return Stillness.MOVING
        off = sqrt(sum((gyr[i] - self.gyr_bias[i]) ** 2 for i in range(3))) if self.bias_known else 0.0
        if acc_spread < p.hard_acc_m_s2 and gyr_spread < p.hard_gyr_rad_s and off < 2 * p.hard_gyr_rad_s:
            return Stillness.ALONE
        if acc_spread < p.soft_acc_m_s2 and gyr_spread < p.soft_gyr_rad_s and off < p.soft_gyr_rad_s:
            return Stillness.HELD
        if acc_spread < p.hover_acc_m_s2 and gyr_spread < p.hover_gyr_rad_s and off < 2 * p.hover_gyr_rad_s:
            return Stillness.HOVERING
        return Stillness.MOVING

    def _learn_bias(self, gyr: list[float], duration: float) -> None:
        share = min(1.0, duration / 0.5) if self.bias_known else 1.0
        b = self.gyr_bias
        self.gyr_bias = (
            b[0] + share * (gyr[0] - b[0]),
            b[1] + share * (gyr[1] - b[1]),
            b[2] + share * (gyr[2] - b[2]),
        )
        self.bias_known = True


def _mean_and_spread(window: deque[tuple[float, ...]], at: int) -> tuple[list[float], float]:
    """Mean of three columns over the window and the spread about it; the fourth is variance within a frame."""
    n = len(window)
    x = y = z = within = 0.0
    for row in window:
        x, y, z, within = x + row[at], y + row[at + 1], z + row[at + 2], within + row[at + 3]
    x, y, z = x / n, y / n, z / n
    for row in window:
        within += (row[at] - x) ** 2 + (row[at + 1] - y) ** 2 + (row[at + 2] - z) ** 2
    return [x, y, z], sqrt(within / n)


@dataclass
class AttitudeChain:
    """The sensor's attitude in the gyro's inertial frame, as a quaternion (w, x, y, z), frame by frame."""

    quaternion: tuple[float, float, float, float] = (1.0, 0.0, 0.0, 0.0)

    def turn(self, angle: FloatArray) -> FloatArray:
        """Attitude matrices (f + 1, 3, 3) at the start of each frame and the end of the last, turning by `angle`.

        Args:
            angle: each frame's rotation vector, shape (f, 3).
        """
        square = (angle * angle).cumsum(axis=1)[:, 2] * 0.25
        half = 0.5 * sine_part(square)
        steps = np.column_stack([1 - square * cosine_part(square), angle * half[:, None]]).tolist()
        passed = [self.quaternion]
        w, x, y, z = self.quaternion
        for dw, dx, dy, dz in steps:
            w, x, y, z = (
                w * dw - x * dx - y * dy - z * dz,
                w * dx + x * dw + y * dz - z * dy,
                w * dy - x * dz + y * dw + z * dx,
                w * dz + x * dy - y * dx + z * dw,
            )
            scale = 1.0 / sqrt(w * w + x * x + y * y + z * z)
            w, x, y, z = w * scale, x * scale, y * scale, z * scale
            passed.append((w, x, y, z))
        self.quaternion = passed[-1]
        return matrices(np.array(passed))


def matrices(quaternions: FloatArray) -> FloatArray:
    """Rotation matrices (f, 3, 3) of unit quaternions (f, 4), element by element."""
    w, x, y, z = quaternions.T
    rows = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
    return np.moveaxis(np.array(rows), 2, 0)


def rotated(matrix: FloatArray, vectors: FloatArray) -> FloatArray:
    """Vectors (f, m, 3) turned by matrices (f, 3, 3), element by element."""
    m = matrix[:, None]
    v0, v1, v2 = (vectors[..., i] for i in range(3))
    return np.stack([m[..., i, 0] * v0 + m[..., i, 1] * v1 + m[..., i, 2] * v2 for i in range(3)], axis=-1)
