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
        before, after = (up @ self.attitude[row]).tolist(), (up @ self.attitude[row + 1]).tolist()
        swing_before = _cross(before, self.rate_before[row].tolist())
        swing_after = _cross(after, self.rate_after[row].tolist())
        biases = [-0.5 * t * (b + a) for b, a in zip(before, after, strict=True)]
        swings = [b - a for b, a in zip(swing_before, swing_after, strict=True)]
        places = [t * s - (a - b) for s, a, b in zip(swing_before, after, before, strict=True)]
        height = [0.5 * t * b for b in biases]
        none = [0.0] * (CONSTANTS - 7)
        return np.array([-t, *biases, *swings, *none]), np.array([-0.5 * t * t, *height, *places, *none])


def _cross(a: list[float], b: list[float]) -> tuple[float, float, float]:
    (a0, a1, a2), (b0, b1, b2) = a, b
    return a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0
