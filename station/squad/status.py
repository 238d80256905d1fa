"""Training status: what medical staff allow an athlete on a day, and which load may then be planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from station.squad.athletes import TrainingStatus


@dataclass(frozen=True, slots=True)
class Restriction:
    """Set by medical staff for one athlete.

    Attributes:
        lifts: the lifts it names; empty: all.
        ceiling_kg: the named lifts may be loaded up to this; None: not at all.
        until: the last day it holds; None: until it is taken back.
    """

    status: TrainingStatus
    lifts: tuple[str, ...] = ()
    ceiling_kg: float | None = None
    until: date | None = None

    def holds(self, day: date, lift: str) -> bool:
        """Whether it says something about this lift on this day."""
        if self.status is TrainingStatus.FULL or (self.until is not None and day > self.until):
            return False
        return self.status is TrainingStatus.OUT or not self.lifts or lift in self.lifts


@dataclass(frozen=True, slots=True)
class Permission:
    """What may be suggested for a lift today.

    Attributes:
        withheld: no load is suggested: out, the lift is not allowed, or pain or illness was said today.
        ceiling_kg: the lowest of all ceilings; None: none.
    """

    withheld: bool
    ceiling_kg: float | None


def permission(
    lift: str,
    day: date,
    restrictions: Sequence[Restriction] = (),
    coach_ceiling_kg: float | None = None,
    *,
    unwell_today: bool = False,
) -> Permission:
    """What restrictions, the coach's ceiling and today's check-in leave.

    A restriction with a ceiling lowers the ceiling and still lets a load be suggested; one without, being out, and
    pain or illness said today withhold it. The screen's words are the same for all, so that they tell nobody why.
    """
    holding = [r for r in restrictions if r.holds(day, lift)]
    stopped = any(r.status is TrainingStatus.OUT or r.ceiling_kg is None for r in holding)
    ceilings = [r.ceiling_kg for r in holding if r.ceiling_kg is not None]
    ceilings += [coach_ceiling_kg] if coach_ceiling_kg is not None else []
    return Permission(unwell_today or stopped, min(ceilings, default=None))
