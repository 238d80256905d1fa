"""The lifts a station knows, and what of each the measurement and the statistics need."""

from __future__ import annotations

from dataclasses import dataclass

from station.squad.errors import UnknownLift


@dataclass(frozen=True, slots=True)
class Lift:
    """One lift. A variation is a lift of its own, with its own history.

    Attributes:
        name: the trade's name, lower case.
        concentric_first: the first movement of a rep is upward (deadlift), not downward (squat).
        shortest_range_m, longest_range_m: plausible range of motion of the bar, m.
        velocity_at_1rm_m_s: mean velocity at the one-repetition maximum, m/s, for an athlete whose own
            is not known.
        velocity_at_1rm_source: where that figure is from.
        first_pull_only: only the pull from the floor to the first top is the rep (power clean).
        can_pin: the bar can pin the lifter: spotters or safety arms.
        velocity_at_1rm_sd_m_s: how much athletes differ in it.
    """

    name: str
    concentric_first: bool
    shortest_range_m: float
    longest_range_m: float
    velocity_at_1rm_m_s: float
    velocity_at_1rm_source: str
    first_pull_only: bool = False
    can_pin: bool = False
    velocity_at_1rm_sd_m_s: float = 0.04


_SQUAT = "Sanchez-Medina et al. 2017, doi 10.1055/s-0043-102933: 0.32 +/- 0.03, full squat, mean velocity"
_BENCH = "Gonzalez-Badillo & Sanchez-Medina 2010, doi 10.1055/s-0030-1248333: 0.16 +/- 0.04, mean velocity"
_THRUST = "de Hoyo et al. 2021, doi 10.1519/JSC.0000000000003159: 0.25 +/- 0.03"
_MEMORY = "from memory, protocol dependent: plausibility only"

# Ranges are wide on purpose: 1.50 m to 2.10 m tall athletes, partial ranges included (common practice, no source).
LIFTS: dict[str, Lift] = {
    lift.name: lift
    for lift in (
        Lift("back squat", False, 0.20, 0.95, 0.32, _SQUAT, can_pin=True, velocity_at_1rm_sd_m_s=0.03),
        Lift("front squat", False, 0.20, 0.95, 0.32, _SQUAT + " (back squat)", can_pin=True),
        Lift("box squat", False, 0.15, 0.90, 0.32, _SQUAT + " (back squat)", can_pin=True),
        Lift("bench press", False, 0.15, 0.65, 0.16, _BENCH, can_pin=True),
        Lift("deadlift", True, 0.30, 0.85, 0.19, _MEMORY),
        Lift("hexagonal-bar deadlift", True, 0.25, 0.80, 0.24, _MEMORY),
        Lift("overhead press", False, 0.30, 0.90, 0.19, _MEMORY, can_pin=True),
        Lift("hip thrust", True, 0.15, 0.60, 0.25, _THRUST, can_pin=True, velocity_at_1rm_sd_m_s=0.03),
        Lift("bench pull", True, 0.20, 0.70, 0.50, _MEMORY),
        Lift("power clean", True, 0.60, 1.70, 1.00, _MEMORY, first_pull_only=True),
    )
}


def lift_named(name: str, also: dict[str, Lift] | None = None) -> Lift:
    """The lift of that name, among the shipped ones and a club's own (`also`).

    Raises:
        UnknownLift: no such lift; the message lists the names.
    """
    known = LIFTS | (also or {})
    lift = known.get(name.strip().lower())
    if lift is None:
        raise UnknownLift(name, sorted(known))
    return lift
