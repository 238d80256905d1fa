"""A sensor's calibration: bias, scale and cross-axis of its accelerometer, from six resting faces and leans.

At rest the corrected force has the size of local gravity whatever the attitude. Least squares over all rests finds
the three biases, the three scales and the three cross-axis terms that make it so. Whether the rests can tell them is
`rest_geometry.py`'s to say.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from drivers.samples import FloatArray
from station.motion.parameters import STANDARD_GRAVITY_M_S2
from station.motion.rest_geometry import UNKNOWNS, missing_faces, open_pairs

_LARGEST_BIAS_M_S2 = 1.5
_LARGEST_SCALE_ERROR = 0.10
_LARGEST_CROSS_AXIS = 0.05
_LARGEST_RESIDUAL = 0.004  # of gravity
_STILL_SPREAD_M_S2 = 0.15


class CalibrationRefused(Exception):
    """A calibration run that cannot be used; the text says why and what to do."""


@dataclass(frozen=True, eq=False, slots=True)
class Calibration:
    """Corrected specific force is `matrix @ (measured - bias)`.

    Attributes:
        bias_m_s2: shape (3,).
        matrix: shape (3, 3).
        gravity_m_s2: local gravity it was made against.
        residual_m_s2: what the sizes of the rests miss of gravity, root of the sum of squares by the rests over nine.
        cross_axis_known: leans told the cross-axis terms; False: kept before leans were asked for, from six faces,
            which leave them near zero whatever they are.
    """

    bias_m_s2: FloatArray = field(default_factory=lambda: np.zeros(3))
    matrix: FloatArray = field(default_factory=lambda: np.eye(3))
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2
    residual_m_s2: float = 0.0
    cross_axis_known: bool = False

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
            "cross_axis_known": self.cross_axis_known,
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
        return cls(bias, matrix, gravity, residual, row.get("cross_axis_known") is True)


def normal_gravity_m_s2(latitude_deg: float, height_m: float = 0.0) -> float:
    """Gravity on the WGS-84 ellipsoid (Somigliana) at a latitude, and above it at a height.

    Source: NIMA TR8350.2, equations 4-1 and 4-3.
    """
    s2 = float(np.sin(np.radians(latitude_deg))) ** 2
    on_ellipsoid = 9.7803253359 * (1 + 0.00193185265241 * s2) / float(np.sqrt(1 - 0.00669437999014 * s2))
    flattening, m, semi_major_m = 1 / 298.257223563, 0.00344978650684, 6378137.0
    first = 2 / semi_major_m * (1 + flattening + m - 2 * flattening * s2) * height_m
    return on_ellipsoid * (1 - first + 3 * height_m**2 / semi_major_m**2)


def calibrated(rests: list[FloatArray], gravity_m_s2: float = STANDARD_GRAVITY_M_S2) -> Calibration:
    """Bias, scale and cross-axis from rests on the six faces and at least four leaning between two or three of them.

    Args:
        rests: samples of each rest, shape (n, 3), m/s2, a second or more.
        gravity_m_s2: local gravity.

    Raises:
        CalibrationRefused: faces or leans are missing, the sensor moved, or the result is not believable.
    """
    means = np.array([rest.mean(axis=0) for rest in rests]).reshape(-1, 3)
    _refuse_missing_faces(means)
    for number, rest in enumerate(rests, start=1):
        if float(rest.std(axis=0).max()) > _STILL_SPREAD_M_S2:
            raise CalibrationRefused(
                f"The sensor moved during rest {number}. Lay it down and let go, then repeat."
            )
    _refuse_undetermined(means)
    # Here and not above: a rack that only applies a calibration starts a quarter of a second sooner without.
    from scipy.optimize import least_squares

    x_scale = [0.1] * 3 + [0.01] * 6
    solution = least_squares(_misfit, np.zeros(UNKNOWNS), args=(means, gravity_m_s2), x_scale=x_scale)
    bias, matrix = solution.x[:3], _matrix(solution.x[3:])
    # By the rests that are over: nine rests can always be made to agree, however bad they are.
    residual = float(np.sqrt((solution.fun**2).sum() / (len(means) - UNKNOWNS)))
    _refuse_unbelievable(bias, matrix, residual, gravity_m_s2)
    return Calibration(bias, matrix, gravity_m_s2, residual, cross_axis_known=True)


def rest_is_off(mean_acc_m_s2: FloatArray, calibration: Calibration) -> float | None:
    """Share by which force at rest misses gravity, when it is more than half a percent; else None."""
    size = float(np.linalg.norm(calibration.apply(mean_acc_m_s2[None])[0]))
    share = size / calibration.gravity_m_s2 - 1
    return share if abs(share) > 0.005 else None


def _matrix(six: FloatArray) -> FloatArray:
    """Identity plus scales and a symmetric cross-axis part; rests cannot tell a rotation, nor does it matter."""
    a, b, c, xy, xz, yz = six.tolist()
    return np.array([[1 + a, xy, xz], [xy, 1 + b, yz], [xz, yz, 1 + c]])


def _misfit(unknown: FloatArray, means: FloatArray, gravity: float) -> FloatArray:
    """What the corrected sizes of the rests miss of gravity, m/s2."""
    corrected = (means - unknown[:3]) @ _matrix(unknown[3:]).T
    misses: FloatArray = np.sqrt((corrected**2).sum(axis=1)) - gravity
    return misses


def _refuse_missing_faces(means: FloatArray) -> None:
    missing = missing_faces(means)
    if missing:
        raise CalibrationRefused(
            f"The sensor did not lie on every face; still missing: {', '.join(missing)}."
        )


def _refuse_undetermined(means: FloatArray) -> None:
    pairs = open_pairs(means)
    if pairs:
        raise CalibrationRefused(
            "Cross-axis errors cannot be told from these rests; still missing: the sensor leaning halfway between "
            f"its faces {', '.join(pairs)}."
        )
    if len(means) <= UNKNOWNS:
        raise CalibrationRefused(
            "One lean more is needed, unlike the others: without it nothing checks the other rests."
        )


def _refuse_unbelievable(bias: FloatArray, matrix: FloatArray, residual: float, gravity: float) -> None:
    if float(np.abs(bias).max()) > _LARGEST_BIAS_M_S2:
        raise CalibrationRefused(
            f"A bias of {np.abs(bias).max():.2f} m/s2 is not believable. Repeat; if it stays, replace the sensor."
        )
    if float(np.abs(np.diag(matrix) - 1).max()) > _LARGEST_SCALE_ERROR:
        raise CalibrationRefused(
            "A scale off by over 10 % is not believable: check the sensor's profile and range."
        )
    if float(np.abs(matrix - np.diag(np.diag(matrix))).max()) > _LARGEST_CROSS_AXIS:
        raise CalibrationRefused(
            "A cross-axis error over 5 % is not believable. Repeat; if it stays, replace the sensor."
        )
    if residual > _LARGEST_RESIDUAL * gravity:
        raise CalibrationRefused(
            f"The rests do not agree with one another (off by {residual:.3f} m/s2). "
            "Repeat on a firm surface, without touching the sensor."
        )
