"""The straight line under the arrival times: how long one sample of this sensor takes on our own clock.

In the first twenty seconds every packet is a point of the line, later the early arrivals of each half second
(`line_fit` says how it is drawn). Where the counter and our clock lose each other (the counter began anew, this
computer slept, a hole whose length nobody counted), a new stretch begins: the rate stays one, and what was learnt of
it before the break is kept.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from drivers.line_fit import expectile_lines, robust_lines
from drivers.samples import FloatArray

SURE_AFTER_S = 10.0
_DOUBTED_S = 2.0
_RAW_S = 20.0  # up to here every packet is a point of the line, then the early ones of each bucket
_BUCKET_S = 0.5
_BUCKET_EARLY_SHARE = 0.2
_WINDOW_BUCKETS = 240  # two minutes: short enough to follow a sensor that warms up
_TOO_EARLY_S = 0.1
_ALL_LATE_S = 0.03
_ALL_LATE_BUCKETS = 16
_PLACED_AFTER_S = 1.0  # so long after a break the earliest arrival says where the line runs

Point = tuple[float, float]


@dataclass(slots=True)
class _Stretch:
    """Arrivals without a break, counted from the first of them.

    Attributes:
        seq, arrival_s: where it begins.
        too_early: it began since packets came before they could have been sent.
        offset_s: where the line runs at its first sample.
        span_s: how long it is.
        raw: packets of its first seconds.
        points: early arrivals of each bucket that is over.
        bucket, bucket_end_s: packets of the present one.
    """

    seq: int
    arrival_s: float
    too_early: bool = False
    offset_s: float = 0.0
    span_s: float = 0.0
    raw: list[Point] = field(default_factory=list)
    points: list[Point] = field(default_factory=list)
    bucket: list[Point] = field(default_factory=list)
    bucket_end_s: float = _BUCKET_S

    def place(self, seq: int, arrival_s: float) -> Point:
        return float(seq - self.seq), arrival_s - self.arrival_s

    def add(self, point: Point) -> None:
        self.span_s = point[1]
        self.bucket.append(point)
        if point[1] < _RAW_S:
            self.raw.append(point)

    def close_bucket(self, interval_s: float) -> float:
        """Make a point of the present bucket; how late its earliest packet was, s."""
        xy = np.array(self.bucket)
        lateness = xy[:, 1] - interval_s * xy[:, 0]
        early = np.argsort(lateness, kind="stable")[: max(1, math.ceil(len(xy) * _BUCKET_EARLY_SHARE))]
        x, y = xy[early].mean(axis=0)
        self.points.append((float(x), float(y)))
        self.bucket = []
        return float(lateness.min()) - self.offset_s

    def split_off(self, buckets: int) -> _Stretch:
        """Take the last buckets away, as a stretch of their own."""
        x0, y0 = self.points[-buckets]
        later = _Stretch(self.seq + round(x0), self.arrival_s + y0)
        later.points = [(x - round(x0), y - y0) for x, y in self.points[-buckets:]]
        later.raw = [(x - round(x0), y - y0) for x, y in self.raw if x >= x0]
        later.span_s = self.span_s - y0
        later.bucket_end_s = self.bucket_end_s - y0
        self.points, self.raw = self.points[:-buckets], [point for point in self.raw if point[0] < x0]
        self.span_s = y0
        return later


class RateLine:
    """Arrival time as a straight line of the sample counter, refined with every packet.

    Attributes:
        interval_s: seconds per sample, or None before two different arrivals were seen.
        breaks: how often the line had to be broken (a host that slept, a counter that began anew).
    """

    def __init__(self) -> None:
        self.interval_s: float | None = None
        self.breaks = 0
        self._sure = False
        self._stretches: list[_Stretch] = []
        self._late_buckets = 0

    @property
    def sure(self) -> bool:
        """Whether the rate rests on at least ten seconds."""
        return self._sure

    @property
    def settled(self) -> bool:
        """Whether the line's position, too, is known since the last break."""
        return self.interval_s is not None and (not self.breaks or self._now.span_s >= SURE_AFTER_S)

    @property
    def holds_start(self) -> bool:
        """Whether the line still rests on the first sample of the stream."""
        return not self.breaks and len(self._now.points) < _WINDOW_BUCKETS

    def position_s(self, seq: int) -> float:
        """Where the line runs at a sample, s on the arrival clock. The line must exist."""
        assert self.interval_s is not None
        now = self._now
        return now.arrival_s + now.offset_s + self.interval_s * (seq - now.seq)

    def add(self, seq: int, arrival_s: float, *, anew: bool = False) -> None:
        """Take in one packet: the counter of its last sample and when it arrived.

        Args:
            seq: counter.
            arrival_s: s.
            anew: how much time lies between it and the packet before is not known by the counter.
        """
        if not self._stretches:
            self._stretches = [_Stretch(seq, arrival_s)]
        elif anew:
            self._break(_Stretch(seq, arrival_s))
        elif self._comes_too_early(seq, arrival_s):
            if self._now.too_early and self._now.span_s < SURE_AFTER_S:
                self._stretches, self._sure = [], False  # again, so soon: it is the rate that was wrong
            self._break(_Stretch(seq, arrival_s, too_early=True))
        now = self._now
        point = now.place(seq, arrival_s)
        now.span_s = point[1]
        if point[1] >= now.bucket_end_s:
            self._close_bucket()
            now = self._now
            point = now.place(seq, arrival_s)
            now.bucket_end_s = (math.floor(point[1] / _BUCKET_S) + 1) * _BUCKET_S
        now.add(point)
        if self.breaks and point[1] < _PLACED_AFTER_S and self.interval_s is not None:
            now.offset_s = min(now.offset_s, point[1] - self.interval_s * point[0])

    def fit(self) -> None:
        """Draw the line anew through what is known so far."""
        span_s = sum(one.span_s for one in self._stretches)
        enough_s = SURE_AFTER_S if self._sure else _DOUBTED_S
        if self.breaks and self.interval_s is not None and span_s < enough_s:
            return  # the rate known from before the break is better than what so short a piece gives
        young = span_s < _RAW_S
        drawn = [one for one in self._stretches if (one.raw if young else one.points)]
        xy = [_points(one.raw if young else one.points) for one in drawn]
        lines = (expectile_lines if young else robust_lines)(xy)
        if lines is not None:
            offsets, self.interval_s = lines
            for stretch, offset_s in zip(drawn, offsets, strict=True):
                stretch.offset_s = offset_s
            self._sure = self._sure or span_s >= SURE_AFTER_S

    @property
    def _now(self) -> _Stretch:
        return self._stretches[-1]

    def _comes_too_early(self, seq: int, arrival_s: float) -> bool:
        placed = not self.breaks or self._now.span_s >= _PLACED_AFTER_S
        return self._sure and placed and arrival_s - self.position_s(seq) < -_TOO_EARLY_S

    def _break(self, stretch: _Stretch) -> None:
        self.breaks += 1
        self._late_buckets = 0
        if self._stretches and self._now.bucket:
            self._now.close_bucket(self.interval_s or 0.0)
        self._stretches.append(stretch)

    def _close_bucket(self) -> None:
        if not self._now.bucket:
            return
        late_s = self._now.close_bucket(self.interval_s or 0.0)
        self._forget()
        self._late_buckets = self._late_buckets + 1 if self._sure and late_s > _ALL_LATE_S else 0
        if self._late_buckets >= _ALL_LATE_BUCKETS:
            self._break(self._now.split_off(_ALL_LATE_BUCKETS))
        if self.interval_s is not None:
            self.fit()

    def _forget(self) -> None:
        """Keep to the window, so that the line follows a sensor that warms up."""
        if sum(len(one.points) for one in self._stretches) > _WINDOW_BUCKETS:
            oldest = next(one for one in self._stretches if one.points)
            del oldest.points[0]
            self._stretches = [one for one in self._stretches if one.points or one is self._now]


def _points(points: list[Point]) -> FloatArray:
    return np.array(points, dtype=np.float64).reshape(-1, 2)
