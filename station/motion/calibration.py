"""A sensor's calibration: bias, scale and cross-axis of its accelerometer, from at least six resting faces."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from drivers.samples import FloatArray
from station.motion.parameters import STANDARD_GRAVITY_M_S2


@dataclass(frozen=True, eq=False, slots=True)
class Calibration:
    """Corrected specific force is `matrix @ (measured - bias)`.

    Attributes:
        bias_m_s2: shape (3,).
        matrix: shape (3, 3).
        gravity_m_s2: local gravity it was made against.
    """

    bias_m_s2: FloatArray = field(default_factory=lambda: np.zeros(3))
    matrix: FloatArray = field(default_factory=lambda: np.eye(3))
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2

    def apply(self, acc_m_s2: FloatArray) -> FloatArray:
        """Corrected samples, shape (n, 3), element by element (the same bits for any number of rows)."""
        off = acc_m_s2 - self.bias_m_s2
        m = self.matrix
        columns = [m[i, 0] * off[:, 0] + m[i, 1] * off[:, 1] + m[i, 2] * off[:, 2] for i in range(3)]
        return np.stack(columns, axis=1)
