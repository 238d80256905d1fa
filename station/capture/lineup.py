"""Who lifts at this rack, in which order, and what each still has to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from station.capture.rack_view import AthleteTile, RackPlan, Unit
from station.readiness.plates import load_words
from station.squad.athletes import Athlete
from station.squad.sets import same_load
from station.store.rows import SetRow


@dataclass(frozen=True, slots=True)
class LineUp:
    """The group at the rack and whose turn it is.

    Attributes:
        group: in lifting order.
        current: whose set is, or was last, on the bar; None while unnamed.
        confirmed: a person said so; else the station only proposes.
        proposed: who is up next once a set has ended; None during a set.
    """

    group: tuple[Athlete, ...]
    current: str | None = None
    confirmed: bool = False
    proposed: str | None = None

    def switch(self, athlete_id: str | None) -> LineUp:
        """A person names who lifts."""
        return replace(self, current=athlete_id, confirmed=athlete_id is not None, proposed=None)

    def set_over(self) -> LineUp:
        """A set has ended: the next in order is proposed."""
        return replace(self, proposed=self._after(self.current))

    def set_begins(self) -> LineUp:
        """A rep came. Unless somebody was named since the last set, it is the proposed athlete's, unconfirmed."""
        if self.proposed is None:
            return self
        confirmed = self.confirmed and self.proposed == self.current
        return replace(self, current=self.proposed, confirmed=confirmed, proposed=None)

    def athlete(self, athlete_id: str | None) -> Athlete | None:
        """The group's athlete of that id."""
        return next((a for a in self.group if a.athlete_id == athlete_id), None)

    def with_athlete(self, athlete: Athlete) -> LineUp:
        """The group with one more, when not in it yet."""
        return self if self.athlete(athlete.athlete_id) else replace(self, group=(*self.group, athlete))

    def _after(self, athlete_id: str | None) -> str | None:
        ids = [a.athlete_id for a in self.group]
        if not ids:
            return None
        return ids[(ids.index(athlete_id) + 1) % len(ids)] if athlete_id in ids else ids[0]


def to_do(plan: RackPlan | None, sets_today: Sequence[SetRow], lift: str, unit: Unit = "kg") -> str:
    """What an athlete still has to do at this lift, in words for the tile."""
    if plan is None or plan.lift != lift:
        return "ask a coach"
    if not warmup_done(plan, sets_today):
        return f"warm-up {load_words(plan.warmup_load_kg, unit)}"
    done = sum(1 for s in sets_today if s.lift == lift and s.kind == "work")
    if done >= plan.work_sets:
        return "done"
    return f"set {done + 1} of {plan.work_sets}"


def warmup_done(plan: RackPlan, sets_today: Sequence[SetRow]) -> bool:
    """Whether the fixed load has been lifted in this session."""
    return any(s.lift == plan.lift and same_load(s.load_kg, plan.warmup_load_kg) for s in sets_today)


def tile(
    athlete: Athlete, plan: RackPlan | None, sets_today: Sequence[SetRow], lift: str, unit: Unit = "kg"
) -> AthleteTile:
    """One athlete of the group as the screen shows it."""
    words = to_do(plan, sets_today, lift, unit)
    return AthleteTile(athlete.athlete_id, athlete.name, athlete.shirt_number, words)
