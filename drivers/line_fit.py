"""Straight lines under points: one slope for several stretches, an offset for each.

A packet never arrives before its last sample was taken, only after: by a little (radio, host) or by a lot (a stall).
So the line is drawn through the early arrivals. It starts on the lower convex hull, at the edge below the mean sample
(the line below all points with the least sum of distances), which no late packet can move, and is then refined. Where
it is not known how much time lies between two stretches, each keeps an offset of its own, and all share the slope.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from drivers.samples import FloatArray

# An early arrival pulls twenty times as hard as a late one. Over gamma-distributed delays of shape 1 to 4 this gave
# two thirds of the spread of the rate that least squares over the earliest fifth gave (simulated).
_EARLY_PULL, _LATE_PULL = 0.95, 0.05
_BOUND_MEDIANS = 1.5  # beyond so many median distances a point pulls no harder
_REFINEMENTS = 25
_ROBUST_REFINEMENTS = 3
_NEAR_SPREADS = 2.5
_CONVERGED_S = 1e-7
_CLOSE_S = 2e-4  # arrivals this close to the line always belong to it (a recording's rounding)

Lines = tuple[list[float], float]


def expectile_lines(stretches: Sequence[FloatArray]) -> Lines | None:
    """Asymmetric least squares with bounded influence (expectile regression: Newey & Powell, Econometrica
    1987;55(4):819-847).

    Args:
        stretches: points x, y, shape (n, 2) each, n at least 1, x increasing.

    Returns:
        The offset of each stretch and their common slope, or None when there is no slope to find.
    """
    start = _start(stretches)
    if start is None:
        return None
    offsets, slope = start
    reach = max(float(xy[-1, 0] - xy[0, 0]) for xy in stretches)
    for _ in range(_REFINEMENTS):
        weights = _pulls(_residuals(stretches, offsets, slope))
        better = _slope(stretches, weights)
        if better is None:
            break
        moved = abs(better - slope) * reach
        slope = better
        offsets = [_offset(xy, weight, slope) for xy, weight in zip(stretches, weights, strict=True)]
        if moved < _CONVERGED_S:
            break
    return offsets, slope


def robust_lines(stretches: Sequence[FloatArray]) -> Lines | None:
    """Least squares over the points near the line; arguments and result as of `expectile_lines`."""
    start = _start(stretches)
    if start is None:
        return None
    offsets, slope = start
    for _ in range(_ROBUST_REFINEMENTS):
        weights = _near(_residuals(stretches, offsets, slope))
        better = _slope(stretches, weights) if sum(float(one.sum()) for one in weights) >= 3.0 else None
        if better is None:
            break
        slope = better
        offsets = [_offset(xy, weight, slope) for xy, weight in zip(stretches, weights, strict=True)]
    return offsets, slope


def _residuals(stretches: Sequence[FloatArray], offsets: list[float], slope: float) -> list[FloatArray]:
    return [xy[:, 1] - offset - slope * xy[:, 0] for xy, offset in zip(stretches, offsets, strict=True)]


def _pulls(residuals: list[FloatArray]) -> list[FloatArray]:
    distances = [np.abs(residual) + _CLOSE_S for residual in residuals]
    bound = _BOUND_MEDIANS * np.median(np.concatenate(distances))
    return [
        np.where(residual > 0, _LATE_PULL, _EARLY_PULL) * np.minimum(1.0, bound / distance)
        for residual, distance in zip(residuals, distances, strict=True)
    ]


def _near(residuals: list[FloatArray]) -> list[FloatArray]:
    apart = [np.abs(residual - np.median(residual)) for residual in residuals]
    spread = 1.4826 * np.median(np.concatenate(apart))  # of a normal distribution, from its median distance
    near = float(_NEAR_SPREADS * spread + _CLOSE_S)
    return [(one <= max(near, float(one.min()))).astype(np.float64) for one in apart]


def _slope(stretches: Sequence[FloatArray], weights: list[FloatArray]) -> float | None:
    """Least squares within the stretches: each is taken from its own middle."""
    above = below = 0.0
    for xy, weight in zip(stretches, weights, strict=True):
        dx = xy[:, 0] - np.average(xy[:, 0], weights=weight)
        above += float(np.sum(weight * dx * xy[:, 1]))
        below += float(np.sum(weight * dx * dx))
    slope = above / below if below > 0.0 else 0.0
    return slope if slope > 0.0 and math.isfinite(slope) else None


def _offset(xy: FloatArray, weight: FloatArray, slope: float) -> float:
    return float(np.average(xy[:, 1], weights=weight) - slope * np.average(xy[:, 0], weights=weight))


def _start(stretches: Sequence[FloatArray]) -> Lines | None:
    """The hull's edge of the longest stretch, and how far below it the others lie."""
    longest = max(stretches, key=lambda xy: float(xy[-1, 0] - xy[0, 0]) if len(xy) else -1.0, default=None)
    slope = None if longest is None else _hull_slope(longest)
    if slope is None:
        return None
    return [float(np.min(xy[:, 1] - slope * xy[:, 0])) for xy in stretches], slope


def _hull_slope(xy: FloatArray) -> float | None:
    """Slope of the lower convex hull's edge below the mean of x (Andrew's monotone chain)."""
    hull: list[tuple[float, float]] = []
    for px, py in xy.tolist():
        while len(hull) > 1:
            (ax, ay), (bx, by) = hull[-2], hull[-1]
            if (by - ay) * (px - ax) < (py - ay) * (bx - ax):
                break
            hull.pop()
        hull.append((px, py))
    middle = float(xy[:, 0].mean()) if len(xy) else 0.0
    for (ax, ay), (bx, by) in pairwise(hull):
        if bx >= middle and bx > ax and by > ay:
            return (by - ay) / (bx - ax)
    return None
