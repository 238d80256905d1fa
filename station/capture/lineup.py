"""Who lifts at this rack, in which order, and what each still has to do."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from station.capture.rack_view import AthleteTile, RackPlan, Unit
from station.readiness.plates import load_words
from station.squad.athletes import Athlete
from station.squad.sets import same_load
from station.store.rows import SetRow

DONE = "done"


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

    def set_over(self, has_something_to_do: Callable[[str], bool] = lambda _: True) -> LineUp:
        """A set has ended: the next in order who still has something to do is proposed, else the next."""
        following = self._after(self.current)
        for athlete_id in following:
            if has_something_to_do(athlete_id):
                return replace(self, proposed=athlete_id)
        return replace(self, proposed=following[0] if following else None)

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

    def without(self, athlete_id: str) -> LineUp:
        """The group with one less."""
        group = tuple(a for a in self.group if a.athlete_id != athlete_id)
        return replace(self, group=group, current=None if self.current == athlete_id else self.current)

    def with_squad(self, group: Sequence[Athlete], squad: Sequence[Athlete]) -> LineUp:
        """The same order with what is known of everybody now, and whoever joined this rack's group at the end."""
        known = {a.athlete_id: a for a in squad}
        stay = [known[a.athlete_id] for a in self.group if a.athlete_id in known]
        here = {a.athlete_id for a in stay}
        return replace(self, group=(*stay, *(a for a in group if a.athlete_id not in here)))

    def _after(self, athlete_id: str | None) -> list[str]:
        """Everybody in lifting order, from the one after this athlete on, who comes last."""
        ids = [a.athlete_id for a in self.group]
        first = ids.index(athlete_id) + 1 if athlete_id in ids else 0
        return ids[first:] + ids[:first]


def to_do(plan: RackPlan | None, sets_today: Sequence[SetRow], lift: str, unit: Unit = "kg") -> str:
    """What an athlete still has to do at this lift, in words for the tile."""
    if plan is None or plan.lift != lift:
        return "ask a coach"
    if not warmup_done(plan, sets_today):
        return f"warm-up {load_words(plan.warmup_load_kg, unit)}"
    done = sum(1 for s in sets_today if s.lift == lift and s.kind == "work")
    if done >= plan.work_sets:
        return DONE
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
