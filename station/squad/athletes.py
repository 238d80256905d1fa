"""Who is in the squad: plain data."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class TrainingStatus(StrEnum):
    """What medical staff allow: everything, named lifts with ceilings, or nothing."""

    FULL = "full"
    MODIFIED = "modified"
    OUT = "out"


@dataclass(frozen=True, slots=True)
class Athlete:
    """One athlete. Two may wear the same shirt number.

    Attributes:
        group: the group that shares a rack, e.g. "rack 1".
    """

    athlete_id: str
    name: str
    shirt_number: int | None = None
    group: str = ""
    status: TrainingStatus = TrainingStatus.FULL
