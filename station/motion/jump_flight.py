"""Take-off and landing of a jump, read from the flanks of the belt's load."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicSpline

from drivers.samples import FloatArray
from station.motion.curve import Curve
from station.motion.parameters import STANDARD_GRAVITY_M_S2

_FLANK = (0.9, 0.35)  # of gravity: the crossings a flank is read at
_LONGEST_FLANK_S = 0.05
_BESIDE_FLIGHT_S, _FINE_S, _FEWEST_SAMPLES = 0.3, 0.001, 4


def flight_of(curve: Curve, light_s: float, loaded_s: float) -> tuple[float, float]:
    """Take-off and landing: where the line through two crossings of the load's flank reaches zero.

    The flanks are those of the push and of the impact: in between, the belt rings on the body and says nothing.
    """
    time, load = _finely(curve, light_s - _BESIDE_FLIGHT_S, loaded_s + _BESIDE_FLIGHT_S)
    middle = int(np.searchsorted(time, 0.5 * (light_s + loaded_s)))
    middle = min(max(middle, 1), len(load) - 2)
    pushing = np.flatnonzero(load[: middle + 1] > STANDARD_GRAVITY_M_S2)
    pushed = int(pushing[-1]) if len(pushing) else 0
    landing = np.flatnonzero(load[middle:] > STANDARD_GRAVITY_M_S2)
    landed = middle + int(landing[0]) if len(landing) else len(load) - 1
    flight = slice(pushed, landed + 1)
    time, share = time[flight], load[flight] / STANDARD_GRAVITY_M_S2
    return _flank_end(time, share), _flank_end(time[::-1], share[::-1])


def _finely(curve: Curve, start_s: float, end_s: float) -> tuple[FloatArray, FloatArray]:
    """Times, and the load in m/s2, every millisecond between the samples.

    A flank lasts two samples of a slow sensor: straight lines between them put the take-off 2 ms late at 100 Hz.
    """
    first, last = np.searchsorted(curve.time_s, [start_s, end_s])
    part = slice(max(int(first) - 1, 0), int(last) + 1)
    time, load = curve.time_s[part], curve.acceleration_m_s2[part] + STANDARD_GRAVITY_M_S2
    if len(time) < _FEWEST_SAMPLES:
        return time, load
    fine = np.arange(time[0], time[-1], _FINE_S)
    return fine, CubicSpline(time, load)(fine)


def _flank_end(time: FloatArray, share: FloatArray) -> float:
    """Where a falling load reaches zero, from its first crossings of two shares of gravity."""
    upper, lower = (_first_below(time, share, level) for level in _FLANK)
    beyond = (lower - upper) * _FLANK[1] / (_FLANK[0] - _FLANK[1])
    return lower + float(np.clip(beyond, -_LONGEST_FLANK_S, _LONGEST_FLANK_S))


def _first_below(time: FloatArray, share: FloatArray, level: float) -> float:
    at = max(int(np.argmax(share < level)), 1) if len(share) > 1 else 0
    before = max(at - 1, 0)
    change = float(share[at] - share[before])
    part = 0.5 if change == 0 else min(max((level - float(share[before])) / change, 0.0), 1.0)
    return float(time[before] + part * (time[at] - time[before]))
