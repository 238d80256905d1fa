"""How a stretch of frames turns, and what each of the sensor's constants adds to its vertical steps meanwhile."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.samples import FloatArray
from station.motion.live import CONSTANTS


@dataclass(frozen=True, eq=False, slots=True)
class Rotations:
    """Attitude at frame borders (f + 1, 3, 3), each frame's turn (f, 3), angular rate at its ends (f, 3), drift."""

    attitude: FloatArray
    angle: FloatArray
    rate_before: FloatArray
    rate_after: FloatArray
    drift_rad_rts: FloatArray
    with_gyro: NDArray[np.bool_]

    def tilt_noise(self, duration_s: FloatArray, per_turn: float) -> FloatArray:
        """Variance of the unexplained tilt step of each frame, shape (f,)."""
        x, y, z = self.angle.T
        noise: FloatArray = self.drift_rad_rts**2 * duration_s + per_turn**2 * (x * x + y * y + z * z)
        return noise

    def constants(self, row: int, up: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
        """What each unit of the sensor's constants adds to the frame's velocity and height steps, shapes (9,).

        The sensor's place r off the bar's axis moves it by up . (rate x r) = r . (up x rate), on the sensor's axes.
        """
        before, after = up @ self.attitude[row], up @ self.attitude[row + 1]
        swing_before = _cross(before, self.rate_before[row])
        swing_after = _cross(after, self.rate_after[row])
        on_velocity, on_height = np.zeros(CONSTANTS), np.zeros(CONSTANTS)
        on_velocity[0] = -t
        on_velocity[1:4] = -0.5 * t * (before + after)
        on_velocity[4:7] = swing_before - swing_after
        on_height[:4] = 0.5 * t * on_velocity[:4]
        on_height[4:7] = t * swing_before - (after - before)
        return on_velocity, on_height


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    (a0, a1, a2), (b0, b1, b2) = a.tolist(), b.tolist()
    return np.array([a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0])
