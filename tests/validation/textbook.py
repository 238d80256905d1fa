"""The textbook method, as a yardstick: the whole file at once, on the true clock.

Gravity at rest, gyro propagation, rest by one threshold on the spread, velocity set to zero at rests with linear
drift removal between them, and the station's own bounds rule.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import uniform_filter1d
from scipy.spatial.transform import Rotation

from drivers.samples import FloatArray, TimedBlock
from station.motion.bounds import measure, upward_runs
from station.motion.events import MotionEvent, RepMeasured
from station.motion.parameters import EngineParameters
from tests.validation.outcome import on_true_clock
from tests.validation.scenarios import Case

_WINDOW_S = 0.3
_REST_SPREAD_M_S2 = 0.3
_SHORTEST_REP_M = 0.15
_GRAVITY = 9.80665


def textbook(case: Case, _calibrated: bool) -> list[MotionEvent]:
    """Reps of a case by the textbook method."""
    return list(textbook_reps(on_true_clock(case)))


def textbook_reps(block: TimedBlock) -> list[RepMeasured]:
    """Reps of a whole stream by the textbook method."""
    p = EngineParameters()
    time = block.time_s
    rest = _at_rest(block)
    acceleration = _vertical(block, rest)
    velocity = _drift_removed(time, acceleration, rest)
    reps = []
    for run in upward_runs(time, velocity, p):
        if run.final is None:
            continue
        m = measure(time, velocity, acceleration, run, p)
        if m.displacement_m >= _SHORTEST_REP_M:
            final = float(time[run.final])
            values = (
                m.mean_velocity_m_s,
                m.mean_propulsive_velocity_m_s,
                m.peak_velocity_m_s,
                m.displacement_m,
            )
            reps.append(
                RepMeasured(len(reps) + 1, m.start_time_s, m.end_time_s, *values, m.duration_s, final, np.nan)
            )
    return reps


def _at_rest(block: TimedBlock) -> np.ndarray:
    rate = 1.0 / float(np.median(np.diff(block.time_s)))
    window = max(3, int(_WINDOW_S * rate))
    mean = uniform_filter1d(block.acc_m_s2, window, axis=0)
    square = uniform_filter1d(block.acc_m_s2**2, window, axis=0)
    return np.sqrt(np.maximum(square - mean**2, 0.0).sum(axis=1)) < _REST_SPREAD_M_S2


def _vertical(block: TimedBlock, rest: np.ndarray) -> FloatArray:
    """Vertical acceleration: attitude by the gyro from the last rest, where gravity gives tilt and size."""
    acc = block.acc_m_s2
    first = np.flatnonzero(rest)
    start = int(first[0]) if len(first) else 0
    if block.gyr_rad_s is None:
        return np.sqrt((acc**2).sum(axis=1)) - _GRAVITY
    gyr = block.gyr_rad_s - block.gyr_rad_s[rest].mean(axis=0) if rest.any() else block.gyr_rad_s
    dt = np.diff(block.time_s, prepend=block.time_s[0])
    turns = Rotation.from_rotvec(gyr * dt[:, None])
    up = acc[start] / np.linalg.norm(acc[start])
    size = _GRAVITY
    out = np.empty(len(acc))
    inverse = turns.inv().as_matrix()
    for i in range(len(acc)):
        up = inverse[i] @ up
        if rest[i]:
            up = up + 0.05 * (acc[i] / np.linalg.norm(acc[i]) - up)
            up = up / np.linalg.norm(up)
            size += 0.05 * (float(acc[i] @ up) - size)
        out[i] = float(acc[i] @ up) - size
    return out


def _drift_removed(time: FloatArray, acceleration: FloatArray, rest: np.ndarray) -> FloatArray:
    """Velocity, zero at rest, with what has drifted taken off linearly in between."""
    steps = 0.5 * (acceleration[1:] + acceleration[:-1]) * np.diff(time)
    raw = np.concatenate([[0.0], np.cumsum(steps)])
    if not rest.any():
        return raw - np.linspace(0.0, raw[-1], len(raw))
    drift = np.interp(time, time[rest], raw[rest])
    return np.asarray(raw - drift, dtype=np.float64)
