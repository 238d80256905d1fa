"""Countermovement jumps from a belt sensor: stance, countermovement, take-off, flight, landing.

Two heights that fail in different ways: from take-off velocity (an integral, hurt by bias and tilt) and from flight
time (hurt by how the landing is met). In flight the body falls freely, which is put in place of what the sensor felt.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from math import hypot, sqrt

import numpy as np

from drivers.samples import FloatArray
from station.motion.columns import Column
from station.motion.curve import Curve, smoothed_curve
from station.motion.estimate import MotionEstimate
from station.motion.events import JumpMeasured
from station.motion.frame_estimate import FrameEstimate
from station.motion.jump_flags import flags_of
from station.motion.jump_flight import flight_of
from station.motion.parameters import STANDARD_GRAVITY_M_S2

_LOOK_BACK_S = 5.0
_LIGHT_SHARE = 0.45  # a frame this light may be flight
_LOADED_SHARE = 1.1  # a frame this heavy has landed
_SHORTEST_FLIGHT_S, _LONGEST_FLIGHT_S = 0.20, 1.0
# Landing and next take-off of two jumps from stance are a second apart at least, those of hops a third of one.
_HOPS, _SHORTEST_BETWEEN_JUMPS_S = 3, 0.7
_SETTLED_AFTER_S = 0.30
_WAIT_AFTER_LANDING_S = 2.0
_STANCE_WITHIN_S = 4.0
_LEAST_TAKEOFF_M_S = 1.0
# What the causal filter must say at the first light frame: some way into the flight, and without a gyro the trunk's
# pitch has taken a part of the push away (a jump of 16 cm was seen at 0.98). A fall is below zero.
_LEAST_RISING_M_S = 0.4
_FLIGHT_SD_M = 0.012  # landing some centimetres higher or lower than take-off
_TAKEOFF_SD_S = 0.002
# Without a gyro the size of the force is integrated, which also feels the hips move horizontally; where the stance
# was not quiet the trunk's pitch is guessed, and the flight counts nearly alone.
_BY_SIZE_SD_M, _BLIND_SD_M = 0.010, 0.05
_STANCE_LASTS_S, _STANCE_STEADY_M_S2, _FEWEST_SAMPLES = 1.2, 0.06, 20


@dataclass
class JumpFinder:
    """Follows the belt's load frame by frame; decides a jump shortly after its landing."""

    estimate: MotionEstimate
    _light_since: int | None = None
    _flights: list[tuple[int, int]] = field(default_factory=list)

    def step(self, frame: FrameEstimate) -> list[JumpMeasured]:
        """One more frame, already in the history; the jump decided at its end, if any."""
        index = len(self.estimate.frames) - 1
        row = self.estimate.frames.view(index, index + 1)[0]
        up = row[Column.UP : Column.UP + 3]
        load = float(row[Column.DV : Column.DV + 3] @ up) / frame.duration_s / STANDARD_GRAVITY_M_S2
        if frame.lost_s > self.estimate.parameters.reset_gap_s:
            self._light_since = None
            self._flights.clear()
        self._follow(index, load)
        if not self._flights:
            return []
        landed_for = frame.end_s - self._end_of(self._flights[-1][1])
        if landed_for < (_SETTLED_AFTER_S if frame.resting else _WAIT_AFTER_LANDING_S):
            return []
        return self._decide_all(index, frame.end_s)

    def finish(self, now: float) -> list[JumpMeasured]:
        """The stream is over: decide a jump that has landed with what there is."""
        return self._decide_all(len(self.estimate.frames) - 1, now)

    def _decide_all(self, index: int, now: float) -> list[JumpMeasured]:
        """The first flight is the jump; what bounces out of its landing is none, and hopping about is none."""
        flights, self._flights = self._flights, []
        if self._hopping(flights):
            return []
        return [jump for flight in flights for jump in self._decide(flight, index, now)][:1]

    def _hopping(self, flights: list[tuple[int, int]]) -> bool:
        """Three flights or more, each out of the landing of the one before: no time for a countermovement."""
        rising = [one for one in flights if self._rises(one)]
        touching = [
            self._end_of(after[0] - 1) - self._end_of(before[1] - 1) for before, after in pairwise(rising)
        ]
        hops = 1 + sum(seconds < _SHORTEST_BETWEEN_JUMPS_S for seconds in touching)
        return hops >= _HOPS

    def _rises(self, flight: tuple[int, int]) -> bool:
        """A jump and no fall, by the causal filter."""
        row = self.estimate.frames.view(flight[0], flight[0] + 1)
        return len(row) > 0 and float(row[0, Column.STATE + 1]) >= _LEAST_RISING_M_S

    def _follow(self, index: int, load: float) -> None:
        """Note stretches light enough for flight; a quick countermovement may be one, too."""
        if load < _LIGHT_SHARE:
            if self._light_since is None:
                self._light_since = index
            return
        if self._light_since is not None and load > _LOADED_SHARE:
            light_for = self._end_of(index - 1) - self._end_of(self._light_since - 1)
            if _SHORTEST_FLIGHT_S <= light_for <= _LONGEST_FLIGHT_S:
                self._flights.append((self._light_since, index))
        if load > _LOADED_SHARE or index - (self._light_since or index) > 25:
            self._light_since = None

    def _end_of(self, index: int) -> float:
        rows = self.estimate.frames.view(index, index + 1)
        return float(rows[0, Column.END_S]) if len(rows) else -np.inf

    def _decide(self, flight: tuple[int, int], index: int, now: float) -> list[JumpMeasured]:
        estimate = self.estimate
        p = estimate.parameters
        reach = estimate.frames_ago(index + 1 - flight[0] + int(_LOOK_BACK_S / p.frame_s))
        first = max(reach, estimate.frames.dropped + 1, estimate.since)
        past = (estimate.frames, estimate.samples, first, index + 1, p)
        takeoff_s, landing_s = flight_of(
            smoothed_curve(*past), self._end_of(flight[0]), self._end_of(flight[1])
        )
        if not self._rises(flight):
            return []
        curve = smoothed_curve(*past, flight_s=(takeoff_s, landing_s))
        rows = estimate.frames.view(first, index + 1)
        felt = None
        if (rows[:, Column.BLIND] > 0).any():
            stops = rows[[0, -1], Column.SAMPLE_STOP].astype(np.int64)
            felt = estimate.samples.view(int(stops[0]), int(stops[1]))
        return _jump(curve, takeoff_s, landing_s, now, felt)


def _jump(
    curve: Curve, takeoff_s: float, landing_s: float, now: float, felt: FloatArray | None = None
) -> list[JumpMeasured]:
    """The jump in a curve with this flight, if it is one.

    Args:
        felt: time and force of the samples, shape (n, 4), of a belt without a gyro; None with one.
    """
    stance_s = _last_rest_before(curve, takeoff_s)
    if stance_s is None or takeoff_s - stance_s > _STANCE_WITHIN_S:
        return []
    g = STANDARD_GRAVITY_M_S2
    leave = float(np.interp(takeoff_s, curve.time_s, curve.velocity_m_s))
    flight_s = landing_s - takeoff_s
    by_flight, by_impulse = g * flight_s**2 / 8, leave * abs(leave) / (2 * g)
    if leave < _LEAST_TAKEOFF_M_S or flight_s < _SHORTEST_FLIGHT_S or by_impulse > 3 * by_flight:
        return []
    blind_sd_m = 0.0
    if felt is not None:
        by_size = _leave_by_size(felt, stance_s, takeoff_s)
        blind_sd_m = _BLIND_SD_M if by_size is None else _BY_SIZE_SD_M
        leave = leave if by_size is None else by_size
        by_impulse = leave * abs(leave) / (2 * g)
    node = curve.node_near(takeoff_s)
    speed_variance = curve.smoothed.variance_of_velocity(node) + (g * _TAKEOFF_SD_S) ** 2
    impulse_sd = hypot(leave / g * sqrt(speed_variance), blind_sd_m)
    height, height_sd = _together(by_flight, _FLIGHT_SD_M, by_impulse, impulse_sd)
    depth, moving_s = _countermovement(curve, stance_s, takeoff_s)
    flags = flags_of(
        curve, stance_s, (takeoff_s, landing_s), depth, by_flight - by_impulse, blind=felt is not None
    )
    return [
        JumpMeasured(
            takeoff_s,
            landing_s,
            flight_s,
            height,
            by_flight,
            by_impulse,
            now,
            flags,
            1.96 * height_sd,
            depth,
            takeoff_s - moving_s,
        )
    ]


def _leave_by_size(felt: FloatArray, stance_s: float, takeoff_s: float) -> float | None:
    """Take-off velocity, m/s, from the size of the force alone, which the trunk's pitch does not change.

    What the size was in quiet stance is taken for gravity, so that scale and bias cancel; None where the stance was
    not quiet.
    """
    time, size = felt[:, 0], np.linalg.norm(felt[:, 1:4], axis=1)
    quiet = size[(time > stance_s - _STANCE_LASTS_S) & (time <= stance_s)]
    moving = (time >= stance_s) & (time <= takeoff_s)
    if len(quiet) < _FEWEST_SAMPLES or int(moving.sum()) < _FEWEST_SAMPLES:
        return None
    means = [float(part.mean()) for part in np.array_split(quiet, 4)]
    if max(means) - min(means) > _STANCE_STEADY_M_S2:
        return None
    return float(np.trapezoid(size[moving] - quiet.mean(), time[moving]))


def _last_rest_before(curve: Curve, time_s: float) -> float | None:
    """End of the last frame before a time at which rest was assumed."""
    ends = curve.frame_time_s[1:]
    rests = ends[(curve.resting > 0) & (ends < time_s)]
    return float(rests[-1]) if len(rests) else None


def _countermovement(curve: Curve, stance_s: float, takeoff_s: float) -> tuple[float, float]:
    """How far the belt went down after stance, and when it began to move."""
    inside = (curve.time_s >= stance_s) & (curve.time_s <= takeoff_s)
    time, height = curve.time_s[inside], curve.height_m[inside]
    if len(time) < 2:
        return 0.0, takeoff_s
    moving = np.flatnonzero(np.abs(curve.velocity_m_s[inside]) > 0.1)
    return float(height[0] - height.min()), float(time[moving[0]]) if len(moving) else takeoff_s


def _together(a: float, a_sd: float, b: float, b_sd: float) -> tuple[float, float]:
    """Two heights weighed by their certainty, and what is uncertain of the result."""
    weight_a, weight_b = 1 / a_sd**2, 1 / b_sd**2
    height = (a * weight_a + b * weight_b) / (weight_a + weight_b)
    return height, max(1 / sqrt(weight_a + weight_b), 0.3 * abs(a - b))
