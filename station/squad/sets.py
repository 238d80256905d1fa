"""A set as the statistics see it: one observation of an athlete under a load."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

# Three hours without a set of one's own begin another session, also where others used the rack meanwhile.
OWN_PAUSE = timedelta(hours=3)
# Loads within 2 % are the same load: a collar more or less does not begin a new history.
SAME_LOAD = 0.02


@dataclass(frozen=True, slots=True)
class SetObservation:
    """The fastest counted rep of one set.

    Attributes:
        session: 1, 2, ... within the day; three idle hours begin a new one.
        equipment: what a change of marks the history (sensor and bar), or "".
        like_day: what kind of day it was as the match calendar sees it, such as "MD+3, played"; "" when unknown.
        counts: lifted with full effort and at the usual depth; what does not count is shown, not used.
    """

    athlete_id: str
    day: date
    lift: str
    load_kg: float
    mean_velocity_m_s: float
    session: int = 1
    displacement_m: float | None = None
    equipment: str = ""
    counts: bool = True
    like_day: str = ""


def same_load(a_kg: float, b_kg: float) -> bool:
    """Whether two loads belong to one history."""
    return abs(a_kg - b_kg) <= SAME_LOAD * max(a_kg, b_kg)


def equipment_words(sensor: str, bar_kg: float | None) -> str:
    """What a history is marked by: sensor and weighed bar; "" where nobody wrote the sensor down."""
    return f"{sensor}|{bar_kg or ''}" if sensor else ""


def usual_displacement_m(observations: Iterable[SetObservation]) -> float | None:
    """Median range of motion of counted sets, m, or None without any."""
    known = sorted(o.displacement_m for o in observations if o.counts and o.displacement_m)
    return known[len(known) // 2] if known else None
