"""A sensor's calibration: bias, scale and cross-axis of its accelerometer, from at least six resting faces.

At rest the corrected force has the size of local gravity whatever the attitude. Least squares over the resting faces
finds the three biases, the three scales and the three cross-axis terms that make it so.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from drivers.samples import FloatArray
from station.motion.parameters import STANDARD_GRAVITY_M_S2

_LARGEST_BIAS_M_S2 = 1.5
_LARGEST_SCALE_ERROR = 0.10
_LARGEST_RESIDUAL = 0.004  # of gravity
_STILL_SPREAD_M_S2 = 0.15
_FACE_SHARE = 0.8  # of gravity along an axis: the sensor lies on that face
FACES = ("+x", "-x", "+y", "-y", "+z", "-z")


class CalibrationRefused(Exception):
    """A calibration run that cannot be used; the text says why and what to do."""


@dataclass(frozen=True, eq=False, slots=True)
class Calibration:
    """Corrected specific force is `matrix @ (measured - bias)`.

    Attributes:
        bias_m_s2: shape (3,).
        matrix: shape (3, 3).
        gravity_m_s2: local gravity it was made against.
        residual_m_s2: root mean square of what is left of the faces' sizes.
    """

    bias_m_s2: FloatArray = field(default_factory=lambda: np.zeros(3))
    matrix: FloatArray = field(default_factory=lambda: np.eye(3))
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2
    residual_m_s2: float = 0.0

    def apply(self, acc_m_s2: FloatArray) -> FloatArray:
        """Corrected samples, shape (n, 3), element by element (the same bits for any number of rows)."""
        off = (acc_m_s2 - self.bias_m_s2).T
        parts = self.matrix[:, :, None] * off
        return (parts[:, 0] + parts[:, 1] + parts[:, 2]).T

    def as_row(self) -> dict[str, Any]:
        """Plain numbers, to be kept with the sensor and with every set."""
        return {
            "bias_m_s2": self.bias_m_s2.tolist(),
            "matrix": self.matrix.tolist(),
            "gravity_m_s2": self.gravity_m_s2,
            "residual_m_s2": self.residual_m_s2,
        }

    @classmethod
    def from_row(cls, row: dict[str, Any]) -> Calibration:
        """The calibration kept as plain numbers.

        Raises:
            ValueError: it is not one.
        """
        try:
            bias = np.array(row["bias_m_s2"], dtype=np.float64)
            matrix = np.array(row["matrix"], dtype=np.float64)
            gravity, residual = float(row["gravity_m_s2"]), float(row["residual_m_s2"])
        except (KeyError, TypeError) as error:
            raise ValueError(f"not a calibration: {error}") from error
        finite = np.isfinite(bias).all() and np.isfinite(matrix).all()
        if bias.shape != (3,) or matrix.shape != (3, 3) or not finite:
            raise ValueError(
                "not a calibration: three biases and a matrix of three by three numbers are needed"
            )
        return cls(bias, matrix, gravity, residual)


def normal_gravity_m_s2(latitude_deg: float, height_m: float = 0.0) -> float:
    """Gravity on the WGS-84 ellipsoid (Somigliana) at a latitude, and above it at a height.

    Source: NIMA TR8350.2, equations 4-1 and 4-3.
    """
    s2 = float(np.sin(np.radians(latitude_deg))) ** 2
    on_ellipsoid = 9.7803253359 * (1 + 0.00193185265241 * s2) / float(np.sqrt(1 - 0.00669437999014 * s2))
    flattening, m, semi_major_m = 1 / 298.257223563, 0.00344978650684, 6378137.0
    first = 2 / semi_major_m * (1 + flattening + m - 2 * flattening * s2) * height_m
    return on_ellipsoid * (1 - first + 3 * height_m**2 / semi_major_m**2)


def face_of(mean_acc_m_s2: FloatArray) -> str | None:
    """Which face the sensor lies on ("+x": x points up), or None when it lies on none."""
    size = float(np.linalg.norm(mean_acc_m_s2))
    axis = int(np.argmax(np.abs(mean_acc_m_s2)))
    if size == 0 or abs(mean_acc_m_s2[axis]) < _FACE_SHARE * size:
        return None
    return ("+" if mean_acc_m_s2[axis] > 0 else "-") + "xyz"[axis]


def missing_faces(rests: list[FloatArray]) -> list[str]:
    """The faces no rest (samples at rest, shape (n, 3)) lies on yet."""
    seen = {face_of(rest.mean(axis=0)) for rest in rests}
    return [face for face in FACES if face not in seen]


def calibrated(rests: list[FloatArray], gravity_m_s2: float = STANDARD_GRAVITY_M_S2) -> Calibration:
    """Bias, scale and cross-axis from rests on at least six faces.

    Args:
        rests: samples of each rest, shape (n, 3), m/s2, a second or more.
        gravity_m_s2: local gravity.

    Raises:
        CalibrationRefused: faces are missing, the sensor moved, or the result is not believable.
    """
    missing = missing_faces(rests)
    if missing:
        raise CalibrationRefused(
            f"The sensor did not lie on every face; still missing: {', '.join(missing)}."
        )
    for number, rest in enumerate(rests, start=1):
        if float(rest.std(axis=0).max()) > _STILL_SPREAD_M_S2:
            raise CalibrationRefused(
                f"The sensor moved during rest {number}. Lay it down and let go, then repeat."
            )
    faces = np.array([rest.mean(axis=0) for rest in rests])
    # Here and not above: a rack that only applies a calibration starts a quarter of a second sooner without.
    from scipy.optimize import least_squares

    solution = least_squares(_misfit, np.zeros(9), args=(faces, gravity_m_s2), x_scale=[0.1] * 3 + [0.01] * 6)
    bias, matrix = solution.x[:3], _matrix(solution.x[3:])
    residual = float(np.sqrt(np.mean((solution.fun[: len(faces)]) ** 2)))
    _refuse_unbelievable(bias, matrix, residual, gravity_m_s2)
    return Calibration(bias, matrix, gravity_m_s2, residual)


def rest_is_off(mean_acc_m_s2: FloatArray, calibration: Calibration) -> float | None:
    """Share by which force at rest misses gravity, when it is more than half a percent; else None."""
    size = float(np.linalg.norm(calibration.apply(mean_acc_m_s2[None])[0]))
    share = size / calibration.gravity_m_s2 - 1
    return share if abs(share) > 0.005 else None


def _matrix(six: FloatArray) -> FloatArray:
    """Identity plus scales and a symmetric cross-axis part; faces cannot tell a rotation, nor does it matter."""
    a, b, c, xy, xz, yz = six.tolist()
    return np.array([[1 + a, xy, xz], [xy, 1 + b, yz], [xz, yz, 1 + c]])


def _misfit(unknown: FloatArray, faces: FloatArray, gravity: float) -> FloatArray:
    """What the corrected sizes miss of gravity, m/s2, and a mild pull of cross-axis terms towards zero.

    Six faces give six equations for nine unknowns: the pull decides what they leave open.
    """
    corrected = (faces - unknown[:3]) @ _matrix(unknown[3:]).T
    sizes = np.sqrt((corrected**2).sum(axis=1)) - gravity
    return np.concatenate([sizes, 0.05 * unknown[6:]])


def _refuse_unbelievable(bias: FloatArray, matrix: FloatArray, residual: float, gravity: float) -> None:
    if float(np.abs(bias).max()) > _LARGEST_BIAS_M_S2:
        raise CalibrationRefused(
            f"A bias of {np.abs(bias).max():.2f} m/s2 is not believable. Repeat; if it stays, replace the sensor."
        )
    if float(np.abs(np.diag(matrix) - 1).max()) > _LARGEST_SCALE_ERROR:
        raise CalibrationRefused(
            "A scale off by over 10 % is not believable: check the sensor's profile and range."
        )
    if residual > _LARGEST_RESIDUAL * gravity:
        raise CalibrationRefused(
            f"The faces do not agree with one another (off by {residual:.3f} m/s2). "
            "Repeat on a firm surface, without touching the sensor."
        )
