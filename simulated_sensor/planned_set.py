"""What a set is to be like before it is performed, and what is typical of each of the ten lifts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class PlannedSet:
    """One set to be performed.

    Attributes:
        lift: one of the station's lift names.
        mean_velocities_m_s: one a rep, about (the truth is computed from the movement).
        range_of_motion_m: usual range of this athlete.
        touch_and_go: no pause between reps.
        longest_pause_s: pauses between reps are drawn between 0 and this.
        sticking_m_s: slow reps (below 0.4 m/s) stick down to this speed.
        fail_last: a further rep is attempted after these and left on the safety arms.
        roll_deg: the bar turns this far during a rep. On the back or the hips it turns with the trunk and stays
            turned until the way back; in the hands the wrists bring it back within the rep.
        rolls_back: on the back and the hips, too, the bar is brought back within the rep.
    """

    lift: str
    mean_velocities_m_s: tuple[float, ...]
    range_of_motion_m: float
    touch_and_go: bool = False
    longest_pause_s: float = 3.0
    sticking_m_s: float = 0.12
    fail_last: bool = False
    roll_deg: float = 15.0
    rolls_back: bool = False


TYPICAL_RANGE_M: dict[str, float] = {
    "back squat": 0.60,
    "front squat": 0.58,
    "box squat": 0.48,
    "bench press": 0.38,
    "deadlift": 0.55,
    "hexagonal-bar deadlift": 0.48,
    "overhead press": 0.55,
    "hip thrust": 0.32,
    "bench pull": 0.42,
    "power clean": 1.10,
}


def typical_set(
    lift: str, mean_velocities_m_s: Sequence[float], rng: np.random.Generator, **changes: object
) -> PlannedSet:
    """A set with this athlete's range drawn about the lift's typical one."""
    rom = TYPICAL_RANGE_M[lift] * rng.uniform(0.85, 1.15)
    return PlannedSet(lift, tuple(mean_velocities_m_s), rom, **changes)  # type: ignore[arg-type]
