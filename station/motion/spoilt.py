"""Upward movements that have no number: too many of their samples were lost, or were at the range's limit."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from drivers.samples import FloatArray
from station.motion.ascents import half_width
from station.motion.bounds import Movement
from station.motion.curve import Curve
from station.motion.judge import Judge, Verdict

LOST_MUCH = "over a quarter of its samples were lost"
LOST_AT_BOUND = "samples were lost where it began or ended"
_HOLE_SHARE = 1.5  # of the usual time between samples
_LIMIT_SHARE = 0.5
_LOST_SHARE = 0.25
_LEADS_TO_S = 0.5
_NOTHING_SHARE = 0.5
_UNSURE_SHARE = 0.25  # a speed less sure than this share of itself tells nobody anything


def spoilt_by_loss(
    curve: Curve, movement: Movement, verdict: Verdict, judge: Judge, spread_m_s: Callable[[], float]
) -> str:
    """Why a movement that is or may be a rep has no number: too much of it, or of what led to it, was lost.

    `spread_m_s` is asked for where samples were lost: the spread of mean velocity with its bounds.
    """
    start, end = movement.start_time_s, movement.end_time_s
    most_s = _LOST_SHARE * movement.duration_s
    if verdict != "nothing" and curve.between(curve.lost_s, start, end) > most_s:
        return LOST_MUCH if lost_within_s(curve.time_s, start, end) > most_s else LOST_AT_BOUND
    unsure = half_width(curve, movement)
    if verdict == "rep":
        lost = bool(curve.lost_s.any())
        known = not lost or max(unsure, 1.96 * spread_m_s()) < _UNSURE_SHARE * movement.mean_velocity_m_s
        return "" if known else "samples were lost before or in it, and its speed is not known well enough"
    if not curve.between(curve.lost_s, start - _LEADS_TO_S, end) > 0:
        return ""
    give = unsure * movement.duration_s
    may_be = verdict == "failed" or judge.may_be_rep(movement.displacement_m, give)
    return "samples were lost around it, and how far the bar rose is not known" if may_be else ""


def lost_within_s(time_s: FloatArray, start_s: float, end_s: float) -> float:
    """How much of a time span lies in holes between samples, s: of a hole over its border the part inside.

    Args:
        time_s: of the samples, increasing, shape (n,), n > 1.
        start_s, end_s: the span, on the same clock.
    """
    step = time_s[1:] - time_s[:-1]
    usual = float(np.median(step))
    holes = np.flatnonzero(step > _HOLE_SHARE * usual)
    began = np.maximum(time_s[holes] + 0.5 * usual, start_s)  # half a step on either side is the sample's own
    ended = np.minimum(time_s[holes + 1] - 0.5 * usual, end_s)
    return float(np.maximum(ended - began, 0.0).sum())


def at_the_limit(curve: Curve, movement: Movement) -> bool:
    """Whether nothing is known of a movement: for most of it, or long before, the sensor was at its range's limit."""
    start, end = movement.start_time_s, movement.end_time_s
    if curve.clipped.any() and half_width(curve, movement) > _NOTHING_SHARE * movement.mean_velocity_m_s:
        return True
    samples = np.searchsorted(curve.time_s, end) - np.searchsorted(curve.time_s, start)
    return curve.between(curve.clipped, start, end) > _LIMIT_SHARE * float(samples)
