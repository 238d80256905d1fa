"""Follows a sensor that is laid on its faces one after another, for its calibration."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from drivers.samples import FloatArray
from station.motion.calibration import FACES, face_of

REST_S = 2.0
STILL_SPREAD_M_S2 = 0.1


@dataclass
class FaceWatch:
    """Takes samples in as they come and keeps one rest of two seconds for every face.

    A rest that was jolted is not kept: whoever touched the sensor leaves it lie for two seconds more.

    Attributes:
        rate_hz: samples a second, nominal.
        rests: of each face, its samples at rest, shape (n, 3), m/s2.
        face: the face the sensor lies on now; None while it is being turned.
        share: how much of that face's rest has been seen, 0 to 1.
    """

    rate_hz: float
    rests: dict[str, FloatArray] = field(default_factory=dict)
    face: str | None = None
    share: float = 0.0
    _held: list[FloatArray] = field(default_factory=list)

    @property
    def missing(self) -> list[str]:
        """The faces no rest lies on yet."""
        return [face for face in FACES if face not in self.rests]

    def take(self, acc_m_s2: FloatArray) -> bool:
        """Samples as they came, shape (n, 3); whether a face was finished just now."""
        if not np.isfinite(acc_m_s2).all():
            self._begin_anew(None)
            return False
        finished = [
            self._one(sample) for sample in acc_m_s2
        ]  # every sample counts, also after a face was finished
        return any(finished)

    def _one(self, sample: FloatArray) -> bool:
        face = face_of(sample)
        if face is None or face != self.face or self._moves(sample):
            self._begin_anew(face)
        self._held.append(sample)
        wanted = max(int(REST_S * self.rate_hz), 2)
        self.share = 1.0 if face in self.rests else len(self._held) / wanted
        if face is None or len(self._held) < wanted:
            return False
        rest = np.array(self._held)
        new = face not in self.rests and float(rest.std(axis=0).max()) < STILL_SPREAD_M_S2
        if new:
            self.rests[face] = rest
        self._begin_anew(face)
        self.share = 1.0 if face in self.rests else 0.0
        return new

    def _moves(self, sample: FloatArray) -> bool:
        return bool(self._held) and float(np.abs(sample - self._held[0]).max()) > 8 * STILL_SPREAD_M_S2

    def _begin_anew(self, face: str | None) -> None:
        self.face, self.share = face, 0.0
        self._held = []
