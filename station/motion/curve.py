"""The smoothed velocity curve of a stretch, sample by sample: what a decision is taken on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivers.samples import FloatArray, IntArray
from station.motion.attitude import Stillness
from station.motion.between_nodes import at_samples, dot, without_ringing
from station.motion.columns import Column
from station.motion.history import RecentRows
from station.motion.live import CONSTANTS, STATES
from station.motion.parameters import STANDARD_GRAVITY_M_S2, EngineParameters
from station.motion.rest_test import smoothed_with_true_rests
from station.motion.smoother import Smoothed, SmootherInput
from station.motion.tilt_smoother import TiltInput, smoothed_up

_STANCE_COMES_BACK_M = 0.02
_FALL_NOISE_M2_S2 = 1e-7


@dataclass(frozen=True, eq=False, slots=True)
class Curve:
    """Smoothed course of a stretch.

    Attributes:
        time_s, velocity_m_s, acceleration_m_s2, height_m: at every sample, shape (n,).
        steady_m_s: the velocity without the ringing that follows a shock, shape (n,): to tell where a rise begins.
        frame_time_s: node times, shape (f + 1,).
        smoothed: the states at the nodes.
        lost_s, clipped: lost time and clipped samples of each frame, shape (f,).
        stillness, resting: of each frame, and the sigma of its assumed rest (0: none), shape (f,).
        frames: of the usual length that each stands for, shape (f,).
        turn_rad, place_m, up: each frame's turn, horizontal place and up in the inertial frame, shape (f, 3).
        place_spread: standard deviations of horizontal velocity (m/s) and tilt (rad), shape (f, 2).
        blind: without a gyro in any of it.
    """

    time_s: FloatArray
    velocity_m_s: FloatArray
    acceleration_m_s2: FloatArray
    height_m: FloatArray
    steady_m_s: FloatArray
    frame_time_s: FloatArray
    smoothed: Smoothed
    lost_s: FloatArray
    clipped: FloatArray
    stillness: FloatArray
    resting: FloatArray
    frames: FloatArray
    turn_rad: FloatArray
    place_m: FloatArray
    place_spread: FloatArray
    up: FloatArray
    blind: bool

    def between(self, values: FloatArray, start_s: float, end_s: float) -> float:
        """Sum of a per-frame value over the frames that touch a time span."""
        first, last = np.searchsorted(self.frame_time_s, [start_s, end_s])
        return float(values[max(first - 1, 0) : last].sum())

    def frames_in(self, start_s: float, end_s: float) -> slice:
        """The frames between two times."""
        first, last = np.searchsorted(self.frame_time_s, [start_s, end_s])
        return slice(max(int(first) - 1, 0), max(int(last), 1))

    def node_near(self, time_s: float) -> int:
        """Index of the node nearest to a time."""
        return int(np.argmin(np.abs(self.frame_time_s - time_s)))


def smoothed_curve(
    frames: RecentRows,
    samples: RecentRows,
    first: int,
    stop: int,
    parameters: EngineParameters,
    flight_s: tuple[float, float] | None = None,
) -> Curve:
    """Smooth frames first..stop-1 (running indices) and put every sample's velocity between the nodes.

    Between the two times of `flight_s` the body is known to fall freely, and to come back to the height it stood at.
    """
    rows = frames.view(first, stop)
    if flight_s is not None:
        rows = _came_back(rows, *flight_s)
    up = _up(rows, parameters)
    known = _known(rows, up, flight_s)
    smoothed = smoothed_with_true_rests(known, rows[:, Column.STILLNESS] >= Stillness.ALONE)
    stops = rows[:, Column.SAMPLE_STOP].astype(np.int64)
    counts = np.diff(np.concatenate([[_first_stop(frames, first, stops)], stops]))
    taken = samples.view(int(stops[0] - counts[0]), int(stops[-1]))
    time, velocity, acceleration = at_samples(taken, rows, counts, up, smoothed)
    began_s = rows[0, Column.END_S] - rows[0, Column.DURATION_S]
    node_time = np.concatenate([[began_s], rows[:, Column.END_S]])
    return Curve(
        time,
        velocity,
        acceleration,
        np.interp(time, node_time, smoothed.height_m),
        without_ringing(time, velocity, rows),
        node_time,
        smoothed,
        rows[:, Column.LOST_S],
        rows[:, Column.CLIPPED],
        rows[:, Column.STILLNESS],
        rows[:, Column.REST],
        np.diff(rows[:, Column.FRAMES], prepend=rows[0, Column.FRAMES] - 1),
        rows[:, Column.TURN : Column.TURN + 3],
        rows[:, Column.PLACE : Column.PLACE + 3],
        rows[:, Column.PLACE_SPREAD + 1 : Column.PLACE_SPREAD + 3],
        up,
        bool((rows[:, Column.BLIND] > 0).any()),
    )


def _known(rows: FloatArray, up: FloatArray, flight_s: tuple[float, float] | None) -> SmootherInput:
    """What the smoother is told of a stretch, along this `up`."""
    duration = rows[:, Column.DURATION_S]
    gravity = STANDARD_GRAVITY_M_S2 - rows[:, Column.MISSING]
    dv = dot(rows[:, Column.DV : Column.DV + 3], up) - gravity * duration
    ds = dot(rows[:, Column.DS : Column.DS + 3], up) - 0.5 * gravity * duration**2
    if flight_s is not None:
        dv, ds = _falling(rows, dv, ds, *flight_s)
    return SmootherInput(
        duration,
        dv,
        ds,
        rows[:, Column.ON_VELOCITY : Column.ON_VELOCITY + CONSTANTS],
        rows[:, Column.ON_HEIGHT : Column.ON_HEIGHT + CONSTANTS],
        rows[:, Column.VERTICAL_NOISE],
        rows[:, Column.REST],
        rows[:, Column.TOP_SIGMA],
        rows[:, Column.BOTTOM_SIGMA],
        rows[:, Column.WANDER],
        rows[0, Column.STATE : Column.STATE + STATES],
        rows[0, Column.COVARIANCE : Column.COVARIANCE + STATES**2].reshape(STATES, STATES),
    )


def _came_back(rows: FloatArray, takeoff_s: float, landing_s: float) -> FloatArray:
    """The rows with the same height at the last rest before a flight and the first after it."""
    rows = rows.copy()
    resting, end = rows[:, Column.REST] > 0, rows[:, Column.END_S]
    before, after = np.flatnonzero(resting & (end < takeoff_s)), np.flatnonzero(resting & (end > landing_s))
    if len(before) and len(after):
        rows[[before[-1], after[0]], Column.TOP_SIGMA] = _STANCE_COMES_BACK_M
    return rows


def _falling(
    rows: FloatArray, dv: FloatArray, ds: FloatArray, takeoff_s: float, landing_s: float
) -> tuple[FloatArray, FloatArray]:
    """Integrals with free fall in place of what was felt in flight; the constants have no part in it."""
    end, duration = rows[:, Column.END_S], rows[:, Column.DURATION_S]
    inside = (end - duration >= takeoff_s) & (end <= landing_s)
    for constants in (Column.ON_HEIGHT, Column.ON_VELOCITY):
        rows[inside, constants : constants + CONSTANTS] = 0.0
    rows[inside, Column.VERTICAL_NOISE] = _FALL_NOISE_M2_S2
    free = -STANDARD_GRAVITY_M_S2 * duration
    return np.where(inside, free, dv), np.where(inside, 0.5 * free * duration, ds)


def _up(rows: FloatArray, p: EngineParameters) -> FloatArray:
    """Direction of up in each frame, smoothed."""
    up = rows[:, Column.UP : Column.UP + 3]
    blind = rows[:, Column.BLIND] > 0
    return smoothed_up(
        TiltInput(
            rows[:, Column.DURATION_S],
            rows[:, Column.DV : Column.DV + 3],
            up,
            rows[:, Column.NOISE],
            rows[:, Column.TILT_NOISE],
            rows[:, Column.REST],
            np.where(blind, p.stray_blind_m, p.stray_m),
            np.where(blind, p.drift_blind_m_s, p.drift_m_s),
            rows[0, Column.PLACE_SPREAD : Column.PLACE_SPREAD + 3] ** 2,
        )
    )


def _first_stop(frames: RecentRows, first: int, stops: IntArray) -> int:
    """Running index of the first sample of the first frame."""
    before = frames.view(first - 1, first)
    return int(before[0, Column.SAMPLE_STOP]) if len(before) else max(int(stops[0]) - 1, 0)
