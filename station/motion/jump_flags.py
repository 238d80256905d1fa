"""What a jump's own signal says against it: dips, arms, heights that disagree, clipped and lost samples."""

from __future__ import annotations

import numpy as np

from station.motion.curve import Curve
from station.motion.parameters import STANDARD_GRAVITY_M_S2

LEAST_DEPTH_M = 0.08
# A dip that is followed by a rise before the next is one of two.
DIP_M = 0.05
DISAGREE_M = 0.045  # landing 3 cm higher or lower than take-off stays below
DISAGREE_BLIND_M = 0.09  # without a gyro the trunk's pitch hurts the take-off velocity
# Arms that go up and come down again in flight push the trunk the other way: a slow wave over the flight, where a
# body that falls freely feels nothing. Ringing of the belt reaches half of this limit.
ARM_SWING_M_S2 = 1.2
IMPACT_S = 0.25
_FLIGHT_PART = (0.10, 0.92)
_FEWEST_SAMPLES = 8


def flags_of(
    curve: Curve, stance_s: float, flight_s: tuple[float, float], depth_m: float, off_m: float, *, blind: bool
) -> tuple[str, ...]:
    """Words for what is wrong with a jump.

    Args:
        stance_s: end of the last rest before.
        flight_s: take-off and landing.
        depth_m: of the countermovement.
        off_m: height from flight minus height from impulse.
        blind: the belt has no gyro.
    """
    flags = []
    if abs(off_m) > (DISAGREE_BLIND_M if blind else DISAGREE_M):
        flags += ["heights disagree", "tucked" if off_m > 0 else "landed early"]
    if depth_m < LEAST_DEPTH_M:
        flags.append("no countermovement")
    if dips(curve, stance_s, flight_s[0]) > 1:
        flags.append("double dip")
    if abs(swing_m_s2(curve, *flight_s)) > ARM_SWING_M_S2:
        flags.append("arm swing")
    if curve.between(curve.clipped, stance_s, flight_s[1] + IMPACT_S) > 0:
        flags.append("clipped")
    if curve.between(curve.lost_s, stance_s, flight_s[1]) > 0:
        flags.append("gap")
    return tuple(flags)


def dips(curve: Curve, stance_s: float, takeoff_s: float) -> int:
    """How often the belt went down by 5 cm and up again before take-off."""
    inside = (curve.time_s >= stance_s) & (curve.time_s <= takeoff_s)
    count, top, bottom, going_down = 0, -np.inf, np.inf, False
    for height in curve.height_m[inside]:
        if going_down:
            bottom = min(bottom, height)
            if height > bottom + DIP_M:
                going_down, top, count = False, height, count + 1
        else:
            top = max(top, height)
            if height < top - DIP_M:
                going_down, bottom = True, height
    return count


def swing_m_s2(curve: Curve, takeoff_s: float, landing_s: float) -> float:
    """Size of the slow wave over the flight that swinging arms leave, m/s2; 0 where there are too few samples."""
    share = (curve.time_s - takeoff_s) / (landing_s - takeoff_s)
    inside = (share > _FLIGHT_PART[0]) & (share < _FLIGHT_PART[1])
    if int(inside.sum()) < _FEWEST_SAMPLES:
        return 0.0
    felt = curve.acceleration_m_s2[inside] + STANDARD_GRAVITY_M_S2
    s = share[inside]
    waves = np.column_stack([np.ones_like(s), s - 0.5, np.cos(2 * np.pi * s)])
    return float(np.linalg.lstsq(waves, felt, rcond=None)[0][2])
