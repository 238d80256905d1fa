"""Samples at the range's limit: how far beyond it the force went, told from how it came there and went away.

A push or a catch goes beyond the range for a while, gently in and out: a curve through both sides, with their slopes,
tells how far. A blow's samples tell nothing of what they miss, only that it is to one side: the usual is put in.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from drivers.samples import FloatArray

LONGEST_RUN_S = 0.15
_GENTLE_M_S2 = 8.0  # from one sample to the next
_CURVE_SHARE, _CURVE_M_S2 = 0.4, 2.0  # doubted of what a curve puts in, and in any case
_BLOW_M_S2, _BLOW_DOUBT_M_S2 = 6.0, 8.0  # by how much a blow's force exceeds the limit
_SIDE = 2  # samples before and after a run, for its slopes


class AtLimit(NamedTuple):
    """A frame's samples at the range's limit, and what they may miss of its velocity step still, m/s."""

    samples: int
    missed_m_s: float


class _Run(NamedTuple):
    """Samples at the limit one after the other: `whole` with both sides, `open` where more is to come."""

    axis: int
    first: int
    stop: int
    whole: bool
    open: bool


def fill_in(
    time_s: FloatArray,
    force_m_s2: FloatArray,
    clipped: NDArray[np.bool_],
    doubt_m_s2: FloatArray,
    settled: int,
) -> int:
    """Put in how far the force went beyond the limit, and how far that is doubted.

    Args:
        time_s: shape (n,).
        force_m_s2: shape (3, n); changed in place.
        clipped: at the limit, shape (3, n).
        doubt_m_s2: shape (n,); changed in place.
        settled: so many of the first samples are as they will stay.

    Returns:
        The same from now on: of the others more has to be known.
    """
    runs = [run for axis in range(len(clipped)) for run in _runs(time_s, axis, clipped[axis])]
    will_stay = min([run.first for run in runs if run.open], default=len(time_s))
    while cut := [run.first for run in runs if run.whole and run.first < will_stay < run.stop]:
        will_stay = min(cut)
    for run in runs:
        force, new = force_m_s2[run.axis], slice(max(run.first, settled), min(run.stop, will_stay))
        if new.start >= new.stop:
            continue
        beyond, doubt = _beyond(time_s, force, run)
        part = slice(new.start - run.first, new.stop - run.first)
        at_limit = clipped[run.axis, new]
        force[new] += beyond[part] * at_limit
        doubt_m_s2[new] = np.maximum(doubt_m_s2[new], doubt[part] * at_limit)
    return will_stay


def _runs(time_s: FloatArray, axis: int, at_limit: NDArray[np.bool_]) -> Iterator[_Run]:
    """Every run of an axis; a single sample that fell short of the limit does not end it."""
    at = np.flatnonzero(at_limit)
    if len(at) == 0:
        return
    for part in np.split(at, np.flatnonzero(np.diff(at) > _SIDE) + 1):
        first, stop = part.item(0), part.item(-1) + 1
        whole = first >= _SIDE and time_s[stop - 1] - time_s[first] <= LONGEST_RUN_S
        ended = stop + _SIDE <= len(time_s)
        yield _Run(axis, first, stop, whole and ended, whole and not ended)


def _beyond(time_s: FloatArray, force: FloatArray, run: _Run) -> tuple[FloatArray, FloatArray]:
    """By how much a run's force exceeds the limit, and the doubt about it, m/s2, each of the run's length."""
    first, stop = run.first, run.stop
    limit = force[first]
    if not run.whole or max(abs(limit - force[first - 1]), abs(limit - force[stop])) > _GENTLE_M_S2:
        return np.full(stop - first, np.copysign(_BLOW_M_S2, limit)), np.full(stop - first, _BLOW_DOUBT_M_S2)
    ends = [first - 1, stop]
    slopes = [(force[at + 1] - force[at]) / (time_s[at + 1] - time_s[at]) for at in (first - _SIDE, stop)]
    beyond = _cubic(time_s[ends], force[ends], slopes, time_s[first:stop]) - limit
    beyond = np.maximum(beyond, 0.0) if limit > 0 else np.minimum(beyond, 0.0)
    return beyond, np.hypot(_CURVE_SHARE * beyond, _CURVE_M_S2)


def _cubic(ends_s: FloatArray, values: FloatArray, slopes: list[float], at_s: FloatArray) -> FloatArray:
    """Cubic Hermite curve between two points, as scipy.interpolate's, which a rack has no other use for."""
    length = ends_s[1] - ends_s[0]
    s = (at_s - ends_s[0]) / length
    before, after = s * (1 - s) ** 2 * length * slopes[0], s**2 * (s - 1) * length * slopes[1]
    step: FloatArray = values[0] + (values[1] - values[0]) * s**2 * (3 - 2 * s) + before + after
    return step
