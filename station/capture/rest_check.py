"""Looks at a sensor at rest before a set: force at rest must have the size of gravity, else it is not calibrated."""

from __future__ import annotations

import numpy as np

from drivers.samples import FloatArray, SampleBlock
from station.capture.rack_view import TroubleLine
from station.motion.calibration import Calibration, rest_is_off

STILL_S = 1.0
STILL_SPREAD_M_S2 = 0.15
KIND = "calibration"


class RestCheck:
    """Collects a second of samples at a time while nobody lifts.

    Args:
        calibration: of this sensor; None: none was made.
    """

    def __init__(self, calibration: Calibration | None = None) -> None:
        self._calibration = calibration or Calibration()
        self._trouble = "is not calibrated" if calibration is None else "no longer fits its calibration"
        self._held: list[FloatArray] = []
        self._since_s: float | None = None
        self.trouble: TroubleLine | None = None
        self.passed: bool | None = None  # None: the sensor has not lain still yet

    def forget(self) -> None:
        """Somebody lifts, or another sensor streams: begin anew."""
        self._held, self._since_s = [], None

    def take(self, block: SampleBlock) -> bool:
        """Samples as they came; whether what is to be said has changed."""
        if not len(block):
            return False
        self._since_s = float(block.host_time_s[0]) if self._since_s is None else self._since_s
        self._held.append(block.acc_m_s2)
        if block.host_time_s[-1] - self._since_s < STILL_S:
            return False
        rest = np.concatenate(self._held)
        self.forget()
        if not np.isfinite(rest).all() or float(rest.std(axis=0).max()) > STILL_SPREAD_M_S2:
            return False
        before, self.trouble = self.trouble, self._judged(rest.mean(axis=0))
        self.passed = self.trouble is None
        return (before is None) != (self.trouble is None)

    def _judged(self, mean_acc_m_s2: FloatArray) -> TroubleLine | None:
        share = rest_is_off(mean_acc_m_s2, self._calibration)
        if share is None:
            return None
        size = (1.0 + share) * self._calibration.gravity_m_s2
        return TroubleLine(
            KIND,
            f"The sensor {self._trouble}: it reads {size:.2f} m/s² at rest, not "
            f"{self._calibration.gravity_m_s2:.2f}",
            "Calibrate it (a minute on a table) or take another; speeds are a little less sure meanwhile.",
        )
