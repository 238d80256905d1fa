"""How a stretch of frames turns, and what each of the sensor's constants adds to its vertical steps meanwhile."""

from __future__ import annotations

from typing import NamedTuple

from station.motion.frames import Three

Matrix = list[list[float]]


class Turning(NamedTuple):
    """How one frame turns: attitude matrix and angular rate at its start and its end. Plain numbers: see `Three`."""

    attitude_before: Matrix
    attitude_after: Matrix
    rate_before: Three
    rate_after: Three

    def in_inertial_frame(self, x: float, y: float, z: float) -> Three:
        """A vector on the sensor's axes at the frame's start, turned into the inertial frame."""
        (a, b, c), (d, e, f), (g, h, i) = self.attitude_before
        return a * x + b * y + c * z, d * x + e * y + f * z, g * x + h * y + i * z

    def move(self, up: Three, t: float) -> list[float]:
        """What each unit of height, velocity and the constants adds to height and velocity at the frame's end.

        The sensor's place r off the bar's axis moves it by up . (rate x r) = r . (up x rate), on the sensor's axes.

        Returns:
            The 12 of the height, and the 12 of the velocity.
        """
        before, after = _on_axes(self.attitude_before, up), _on_axes(self.attitude_after, up)
        (ax, ay, az), (bx, by, bz) = before, after
        (rx, ry, rz), (sx, sy, sz) = _cross(before, self.rate_before), _cross(after, self.rate_after)
        half = -0.5 * t
        x, y, z = half * (ax + bx), half * (ay + by), half * (az + bz)
        on_height = 1.0, t, half * t, -half * x, -half * y, -half * z
        places = t * rx - (bx - ax), t * ry - (by - ay), t * rz - (bz - az)
        on_velocity = 0.0, 1.0, -t, x, y, z, rx - sx, ry - sy, rz - sz
        return [*on_height, *places, 0.0, 0.0, 0.0, *on_velocity, 0.0, 0.0, 0.0]


def _on_axes(attitude: Matrix, up: Three) -> Three:
    """A direction of the inertial frame on the sensor's axes."""
    (a, b, c), (d, e, f), (g, h, i) = attitude
    x, y, z = up
    return a * x + d * y + g * z, b * x + e * y + h * z, c * x + f * y + i * z


def _cross(a: Three, b: Three) -> Three:
    (a0, a1, a2), (b0, b1, b2) = a, b
    return a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0
