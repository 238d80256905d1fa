"""From a measured jump to a trial: does it count, and if not, what to do better, in words for the athlete."""

from __future__ import annotations

from datetime import date

from station.motion.events import JumpMeasured
from station.squad.jumps import JumpTrial

# The first flag of these that a jump carries says why it does not count.
WHY_NOT = (
    ("gap", "the belt's signal was interrupted"),
    ("double dip", "one dip only, from standing still"),
    ("no countermovement", "dip before you jump"),
    ("arm swing", "hands on the hips"),
    ("tucked", "straight legs: longer in the air than the take-off gives"),
    ("landed early", "land where you took off: landed early"),
    ("heights disagree", "flight and take-off disagree"),
)


def why_not(flags: tuple[str, ...]) -> str:
    """Why a jump with these flags does not count; "" when it does."""
    return next((words for flag, words in WHY_NOT if flag in flags), "")


def trial_of(jump: JumpMeasured, athlete_id: str | None, day: date) -> JumpTrial:
    """The trial, not yet kept."""
    why = why_not(jump.flags)
    return JumpTrial(
        "",
        athlete_id,
        day,
        jump.jump_height_m,
        jump.height_from_flight_m,
        jump.height_from_impulse_m,
        jump.uncertainty_m,
        jump.countermovement_depth_m,
        jump.time_to_takeoff_s,
        jump.flags,
        not why,
        why,
    )
