"""The straight line under the arrival times: how long one sample of this sensor takes on our own clock.

A packet never arrives before its last sample was taken, only after: by a little (radio, host) or by a lot (a stall).
So the line is drawn through the early arrivals. It starts on the lower convex hull, at the edge below the mean sample
(the line below all points with the least sum of distances), which no late packet can move. In the first twenty
seconds it is then refined over all arrivals by asymmetric least squares (expectile regression: Newey & Powell,
Econometrica 1987;55(4):819-847) with bounded influence; later by least squares over the early arrivals of each half
second.
"""

from __future__ import annotations

import math
from collections import deque
from itertools import pairwise

import numpy as np

from drivers.samples import FloatArray

SURE_AFTER_S = 10.0
_DOUBTED_S = 2.0
_RAW_S = 20.0  # up to here every packet is a point of the line, then the early ones of each bucket
# An early arrival pulls twenty times as hard as a late one. Over gamma-distributed delays of shape 1 to 4 this gave
# two thirds of the spread of the rate that least squares over the earliest fifth gave (simulated).
_EARLY_PULL, _LATE_PULL = 0.95, 0.05
_BOUND_MEDIANS = 1.5  # beyond so many median distances a point pulls no harder
_REFINEMENTS = 25
_BUCKET_S = 0.5
_BUCKET_EARLY_SHARE = 0.2
_WINDOW_BUCKETS = 240  # two minutes: short enough to follow a sensor that warms up
_TOO_EARLY_S = 0.1
_ALL_LATE_S = 0.03
_ALL_LATE_BUCKETS = 16
_CONVERGED_S = 1e-7
_CLOSE_S = 2e-4  # arrivals this close to the line always belong to it (a recording's rounding)


class RateLine:
    """Arrival time as a straight line of the sample counter, refined with every packet.

    Attributes:
        interval_s: seconds per sample, or None before two different arrivals were seen.
        breaks: how often the line had to start anew (a host that slept, a counter that jumped).
        span_s: how much time the present line rests on.
    """

    def __init__(self) -> None:
        self.interval_s: float | None = None
        self.breaks = 0
        self.span_s = 0.0
        self._sure = False
        self._empty = True
        self._start_again(0, 0.0)

    def _start_again(self, seq: int, arrival_s: float) -> None:
        self._x0, self._y0 = seq, arrival_s
        self._offset_s = 0.0
        self._raw: list[tuple[float, float]] = []
        self._bucket: list[tuple[float, float]] = []
        self._bucket_end: float = _BUCKET_S
        self._points: deque[tuple[float, float]] = deque(maxlen=_WINDOW_BUCKETS)
        self._late_buckets = 0
        self.span_s = 0.0

    @property
    def sure(self) -> bool:
        """Whether the rate rests on at least ten seconds."""
        return self._sure

    @property
    def settled(self) -> bool:
        """Whether the line's position, too, is known since the last break."""
        return self.interval_s is not None and (not self.breaks or self.span_s >= SURE_AFTER_S)

    @property
    def holds_start(self) -> bool:
        """Whether the line still rests on the first sample of the stream."""
        return not self.breaks and len(self._points) < _WINDOW_BUCKETS

    def position_s(self, seq: int) -> float:
        """Where the line runs at a sample, s on the arrival clock. The line must exist."""
        assert self.interval_s is not None
        return self._y0 + self._offset_s + self.interval_s * (seq - self._x0)

    def add(self, seq: int, arrival_s: float) -> None:
        """Take in one packet: the counter of its last sample and when it arrived."""
        if self._empty:
            self._start_again(seq, arrival_s)
            self._empty = False
        elif self._sure and arrival_s - self.position_s(seq) < -_TOO_EARLY_S:
            self._break(seq, arrival_s)
        self.span_s = arrival_s - self._y0
        if self.span_s >= self._bucket_end:
            self._close_bucket()
            self._bucket_end = (math.floor((arrival_s - self._y0) / _BUCKET_S) + 1) * _BUCKET_S
        x, y = float(seq - self._x0), arrival_s - self._y0
        self._bucket.append((x, y))
        if y < _RAW_S:
            self._raw.append((x, y))

    def fit(self) -> None:
        """Draw the line anew through what is known so far."""
        young = self.span_s < _RAW_S
        points = self._raw if young else self._points
        if self.breaks and self.span_s < (SURE_AFTER_S if self._sure else _DOUBTED_S):
            return  # the rate known from before the break is better than what so short a piece gives
        xy = np.array(points, dtype=np.float64).reshape(-1, 2)
        line = _expectile_line(xy) if young else _robust_line(xy)
        if line is not None:
            self._offset_s, self.interval_s = line
            self._sure = self._sure or self.span_s >= SURE_AFTER_S

    def _break(self, seq: int, arrival_s: float) -> None:
        if self.breaks and self.span_s < SURE_AFTER_S:
            self._sure = False  # again, so soon: it is the rate that was wrong, drawn across a hole perhaps
        self.breaks += 1
        self._start_again(seq, arrival_s)

    def _close_bucket(self) -> None:
        if not self._bucket:
            return
        xy = np.array(self._bucket)
        interval = self.interval_s or 0.0
        lateness = xy[:, 1] - interval * xy[:, 0]
        early = np.argsort(lateness, kind="stable")[: max(1, math.ceil(len(xy) * _BUCKET_EARLY_SHARE))]
        x, y = xy[early].mean(axis=0)
        self._points.append((float(x), float(y)))
        self._bucket = []
        late = self._sure and float(lateness.min()) - self._offset_s > _ALL_LATE_S
        self._late_buckets = self._late_buckets + 1 if late else 0
        if self._late_buckets >= _ALL_LATE_BUCKETS:
            self._break(self._x0 + round(x), self._y0 + float(y))
        elif self.interval_s is not None:
            self.fit()


def _expectile_line(xy: FloatArray) -> tuple[float, float] | None:
    """Offset and slope by asymmetric least squares with bounded influence, or None when there is no slope to find."""
    x, y = xy[:, 0], xy[:, 1]
    edge = _hull_edge(x, y)
    if edge is None:
        return None
    offset, slope = edge
    for _ in range(_REFINEMENTS):
        residual = y - offset - slope * x
        distance = np.abs(residual) + _CLOSE_S
        weight = np.where(residual > 0, _LATE_PULL, _EARLY_PULL)
        weight *= np.minimum(1.0, _BOUND_MEDIANS * np.median(distance) / distance)
        middle = float(np.average(x, weights=weight))
        dx = x - middle
        better = float(np.sum(weight * dx * y) / np.sum(weight * dx * dx))
        if better <= 0.0 or not math.isfinite(better):
            break
        moved = abs(better - slope) * float(x[-1])
        slope = better
        offset = float(np.average(y, weights=weight)) - slope * middle
        if moved < _CONVERGED_S:
            break
    return offset, slope


def _robust_line(xy: FloatArray) -> tuple[float, float] | None:
    """Offset and slope of the line along the early points, or None when there is no slope to find."""
    x, y = xy[:, 0], xy[:, 1]
    edge = _hull_edge(x, y)
    if edge is None:
        return None
    offset, slope = edge
    for _ in range(3):
        residual = y - offset - slope * x
        middle = np.median(residual)
        spread = 1.4826 * np.median(np.abs(residual - middle))
        near = np.abs(residual - middle) <= 2.5 * spread + _CLOSE_S
        dx = x[near] - x[near].mean()
        if near.sum() < 3 or not dx.any():
            break
        better = float(np.sum(dx * y[near]) / np.sum(dx * dx))
        if better <= 0.0:
            break
        slope = better
        offset = float(y[near].mean() - slope * x[near].mean())
    return offset, slope


def _hull_edge(x: FloatArray, y: FloatArray) -> tuple[float, float] | None:
    """The edge of the lower convex hull below the mean of x, as offset and slope (Andrew's monotone chain)."""
    hull: list[tuple[float, float]] = []
    for px, py in zip(x.tolist(), y.tolist(), strict=True):
        while len(hull) > 1:
            (ax, ay), (bx, by) = hull[-2], hull[-1]
            if (by - ay) * (px - ax) < (py - ay) * (bx - ax):
                break
            hull.pop()
        hull.append((px, py))
    middle = float(x.mean()) if len(x) else 0.0
    for (ax, ay), (bx, by) in pairwise(hull):
        if bx >= middle and bx > ax and by > ay:
            slope = (by - ay) / (bx - ax)
            return ay - slope * ax, slope
    return None
