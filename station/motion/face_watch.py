"""Follows a sensor that is laid on its faces one after another, then leaned between them, for its calibration."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from drivers.samples import FloatArray
from station.motion.rest_geometry import (
    FACES,
    LEANS,
    TURNED,
    face_of,
    missing_leans,
    pair_of,
    same_lean,
    turned_over,
)

REST_S = 2.0
STILL_SPREAD_M_S2 = 0.1


@dataclass
class FaceWatch:
    """Takes samples in as they come and keeps one rest of two seconds for every face, then for every distinct lean.

    A rest that was jolted is not kept: whoever touched the sensor leaves it lie for two seconds more. Leans count
    once all faces are seen, so that a sensor held in the hand while it is turned is none.

    Attributes:
        rate_hz: samples a second, nominal.
        rests: of each face, its samples at rest, shape (n, 3), m/s2.
        leans: of each lean, the same.
        face: the face the sensor lies on now; None while it is being turned or leans.
        lean: which of the missing leans the sensor is in now ("x/y", "x/y turned over"); None: in none of them.
        missing_leans: of each pair of axes the lean, and the same turned over, that no rest shows yet.
        share: how much of this rest has been seen, 0 to 1; 1: it was seen before.
    """

    rate_hz: float
    rests: dict[str, FloatArray] = field(default_factory=dict)
    leans: list[FloatArray] = field(default_factory=list)
    face: str | None = None
    lean: str | None = None
    share: float = 0.0
    missing_leans: list[str] = field(default_factory=lambda: list(LEANS))
    _held: list[FloatArray] = field(default_factory=list)
    _seen: bool = False

    @property
    def missing(self) -> list[str]:
        """The faces no rest lies on yet."""
        return [face for face in FACES if face not in self.rests]

    @property
    def complete(self) -> bool:
        """Whether all that a calibration needs was seen."""
        return not self.missing and not self.missing_leans

    @property
    def all_rests(self) -> list[FloatArray]:
        """Every rest that was kept, faces first."""
        return [*self.rests.values(), *self.leans]

    def take(self, acc_m_s2: FloatArray) -> bool:
        """Samples as they came, shape (n, 3); whether a rest was finished just now."""
        if not np.isfinite(acc_m_s2).all():
            self._begin_anew(None)
            return False
        finished = [
            self._one(sample) for sample in acc_m_s2
        ]  # every sample counts, also after a face was finished
        return any(finished)

    def _one(self, sample: FloatArray) -> bool:
        face = face_of(sample)
        turned = face is None and bool(self.missing)
        if turned or face != self.face or not self._held or self._moves(sample):
            self._begin_anew(sample)
        self._held.append(sample)
        wanted = max(int(REST_S * self.rate_hz), 2)
        self.share = 1.0 if self._seen else len(self._held) / wanted
        if turned or len(self._held) < wanted:
            return False
        rest = np.array(self._held)
        new = float(rest.std(axis=0).max()) < STILL_SPREAD_M_S2 and self._keep(rest)
        self._begin_anew(sample)
        self.share = 1.0 if self._seen else 0.0
        return new

    def _keep(self, rest: FloatArray) -> bool:
        """Keep a rest in a place where none was kept; whether it was."""
        mean = rest.mean(axis=0)
        face = face_of(mean)
        if face is not None and face not in self.rests:
            self.rests[face] = rest
        elif face is None and not self.missing and not self._leaned(mean):
            self.leans.append(rest)
            self.missing_leans = missing_leans([lean.mean(axis=0) for lean in self.leans])
        else:
            return False
        return True

    def _leaned(self, force: FloatArray) -> bool:
        return any(same_lean(force, lean.mean(axis=0)) for lean in self.leans)

    def _moves(self, sample: FloatArray) -> bool:
        return bool(np.abs(sample - self._held[0]).max() > 8 * STILL_SPREAD_M_S2)

    def _begin_anew(self, sample: FloatArray | None) -> None:
        """The sensor is in another place, or moved: nothing is held of it yet."""
        self._held, self.share, self.face, self.lean, self._seen = [], 0.0, None, None, False
        if sample is None:
            return
        self.face = face_of(sample)
        if self.face is not None:
            self._seen = self.face in self.rests
        elif not self.missing:
            self._seen = self._leaned(sample)
            self.lean = None if self._seen else self._lean_of(sample)

    def _lean_of(self, sample: FloatArray) -> str | None:
        pair = pair_of(sample)
        if pair is None or pair in self.missing_leans:
            return pair
        turned = any(turned_over(sample, lean.mean(axis=0)) for lean in self.leans)
        return pair + TURNED if turned and pair + TURNED in self.missing_leans else None
