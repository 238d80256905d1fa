"""Rest in hands, tested from both sides: a grinding bar looks at rest until it is known where it went on to.

A rest is assumed in passing, with what is known at that moment. A decision knows what came after, too. What then is
contradicted beyond doubt was no rest, and is taken back.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from drivers.samples import FloatArray, IntArray
from station.motion.smoother import Smoothed, SmootherInput, smooth

_ONE_REST_S = 0.8  # rests closer together than this stand and fall together
_DOUBT = 9.0  # three standard deviations of the pull that a group of rests has exerted
_MOST_TAKEN_BACK = 4


def smoothed_with_true_rests(known: SmootherInput, sure: NDArray[np.bool_]) -> Smoothed:
    """Smooth; take back rests that the rest of the stretch contradicts, the worst first, and smooth again.

    Args:
        known: the stretch.
        sure: rests not to be doubted (nobody holds the bar), shape (n,).
    """
    smoothed = smooth(known)
    for _ in range(_MOST_TAKEN_BACK):
        wrong = _contradicted(known, smoothed, sure)
        if wrong is None:
            break
        rest = known.rest_sigma_m_s.copy()
        rest[wrong] = 0.0
        known = replace(known, rest_sigma_m_s=rest)
        smoothed = smooth(known)
    return smoothed


def _contradicted(known: SmootherInput, smoothed: Smoothed, sure: NDArray[np.bool_]) -> IntArray | None:
    """Frames of the group of rests that is contradicted most, if any is beyond doubt."""
    frames = np.flatnonzero((known.rest_sigma_m_s > 0) & ~sure)
    if len(frames) == 0:
        return None
    end = np.cumsum(known.duration_s)[frames]
    groups = np.split(np.arange(len(frames)), np.flatnonzero(np.diff(end) > _ONE_REST_S) + 1)
    covariance = smoothed.velocity_covariance(frames + 1)
    velocity = smoothed.velocity_m_s[frames + 1]
    variance = known.rest_sigma_m_s[frames] ** 2
    doubts = [_doubt(velocity[g], covariance[np.ix_(g, g)], variance[g]) / len(g) for g in groups]
    worst = int(np.argmax(doubts))
    return frames[groups[worst]] if doubts[worst] > _DOUBT else None


def _doubt(velocity: FloatArray, covariance: FloatArray, variance: FloatArray) -> float:
    """How far all else puts these velocities from zero, squared, by its own variance (leave-group-out residual)."""
    left_out = np.diag(variance) - covariance
    return float(velocity @ np.linalg.lstsq(left_out, velocity, rcond=1e-9)[0])
