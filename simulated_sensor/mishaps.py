"""What happens to a sensor in the middle of a set: knocked, slipping round the bar, or falling off it.

Each takes the bar's movement and gives what the sensor goes through instead. The truth stays the bar's.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.ndimage import gaussian_filter1d

from drivers.samples import FloatArray
from simulated_sensor.kinematics import GRAVITY_M_S2, BarMotion
from simulated_sensor.shaking import shock_ringing
from simulated_sensor.velocity_shapes import FINE_RATE_HZ, minimum_jerk_progress, samples

_IMPACT_S = 0.002


def knocked(motion: BarMotion, at_s: float, rng: np.random.Generator) -> BarMotion:
    """Somebody or something hits the sensor with 2 to 10 g; it turns by up to 5 degrees and stays on the bar."""
    at = round(at_s * FINE_RATE_HZ)
    ringing = shock_ringing(rng, len(motion.position_m), [(at, rng.uniform(20.0, 100.0))])
    turned = _rolled(motion, at, np.radians(rng.uniform(-5.0, 5.0)), 0.05)
    return replace(turned, ringing_m=motion.ringing_m + ringing)


def slipped(motion: BarMotion, at_s: float, rng: np.random.Generator) -> BarMotion:
    """The clamp lets go: the sensor turns round the bar by 70 to 170 degrees within a quarter of a second."""
    turn = np.radians(rng.uniform(70.0, 170.0)) * rng.choice([-1, 1])
    return _rolled(motion, round(at_s * FINE_RATE_HZ), turn, rng.uniform(0.15, 0.25))


def fell_off(motion: BarMotion, at_s: float, rng: np.random.Generator) -> BarMotion:
    """The sensor comes off: it tumbles to the floor, 0.7 to 1.4 m down, and lies there.

    Movements that had not ended by then are no part of the truth any more: nothing felt them.
    """
    at = round(at_s * FINE_RATE_HZ)
    height = rng.uniform(0.7, 1.4)
    position, landed = _dropped(motion.position_m, at, height)
    after = np.arange(len(position) - at) / FINE_RATE_HZ
    turning = np.minimum(after, (landed - at) / FINE_RATE_HZ)
    angles = motion.angles_rad.copy()
    angles[at:] = angles[at] + turning[:, None] * np.array([rng.uniform(3, 6), rng.uniform(1, 2), 2.0])
    smooth = gaussian_filter1d(angles[at:], 0.01 * FINE_RATE_HZ, axis=0, mode="nearest")
    angles[at:] = smooth - smooth[0] + angles[at]
    ringing = motion.ringing_m.copy()
    ringing[at:] = shock_ringing(rng, len(position), [(landed, 100.0)])[at:]
    felt = tuple(movement for movement in motion.movements if movement[1] <= at)
    return BarMotion(position, angles, ringing, felt)


def _rolled(motion: BarMotion, at: int, turn_rad: float, seconds: float) -> BarMotion:
    """The sensor turned round the bar's axis from a grid point on, the bar itself not."""
    n = samples(seconds)
    step = np.zeros(len(motion.angles_rad))
    step[at : at + n] = minimum_jerk_progress(n)
    step[at + n :] = 1.0
    angles = motion.angles_rad.copy()
    angles[:, 0] += turn_rad * step
    return replace(motion, angles_rad=angles)


def _dropped(position_m: FloatArray, at: int, height_m: float) -> tuple[FloatArray, int]:
    """The path from a grid point on: thrown with the velocity it had, to the floor; and where it lands."""
    after = np.arange(len(position_m) - at) / FINE_RATE_HZ
    start = (position_m[at] - position_m[at - 1]) * FINE_RATE_HZ
    velocity = np.tile(start, (len(after), 1))
    velocity[:, 2] -= GRAVITY_M_S2 * after
    fallen = np.cumsum(velocity[:, 2]) / FINE_RATE_HZ
    landed = int(np.argmax(fallen < -height_m))
    velocity[landed:] = 0.0
    hit = slice(landed // 2, None)  # the floor gives a little: no step from one grid point to the next
    velocity[hit] = gaussian_filter1d(velocity[hit], _IMPACT_S * FINE_RATE_HZ, axis=0, mode="nearest")
    path = position_m.copy()
    path[at:] = position_m[at] + np.cumsum(velocity, axis=0) / FINE_RATE_HZ
    return path, at + landed
