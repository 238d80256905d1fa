"""The sets of one session at one rack, read out of the record and kept until something changes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from station.capture.own_session import OwnSession, own_session
from station.capture.rack_view import RackPlan
from station.squad.sets import same_load
from station.store.record import Record
from station.store.rows import SetRow

WARM_UP = "warm-up"
PlanOf = Callable[[str | None, str], RackPlan | None]
"""The plan of an athlete for a lift, as far as it may be followed today."""


class SessionSets:
    """What the record says has been lifted in this session.

    Args:
        day: the local day.
        number: which session of that day.
        plan_of: tells which sets are warm-up sets.
    """

    def __init__(self, record: Record, day: date, number: int, plan_of: PlanOf) -> None:
        self._record, self._day, self._number, self._plan_of = record, day, number, plan_of
        self._rows: list[SetRow] | None = None
        self._own: dict[str, OwnSession] = {}

    def forget(self) -> None:
        """They are read anew when next asked for."""
        self._rows = None
        self.look_at_the_clock()

    def look_at_the_clock(self) -> None:
        """Three hours may have passed since an athlete's own last set."""
        self._own.clear()

    @property
    def all(self) -> list[SetRow]:
        """Everybody's, oldest first."""
        if self._rows is None:
            self._rows = [s for s in self._record.sets_on(self._day) if s.session == self._number]
        return self._rows

    def own(self, athlete_id: str) -> OwnSession:
        """The athlete's own session that is now, at whatever rack."""
        if athlete_id not in self._own:
            self._own[athlete_id] = own_session(self._record, athlete_id, self._day, self._number)
        return self._own[athlete_id]

    def of(self, athlete_id: str | None, lift: str | None = None) -> list[SetRow]:
        """The sets of one athlete (None: unnamed) at this rack, of one lift or all, oldest first."""
        mine = [s for s in self.all if s.athlete_id == athlete_id]
        if athlete_id is not None:
            own = self.own(athlete_id).set_ids
            mine = self._with_kinds([s for s in mine if s.set_id in own])
        return [s for s in mine if lift is None or s.lift == lift]

    def warmups_of(self, athlete_id: str | None, lift: str) -> list[SetRow]:
        """Those of them at the warm-up load."""
        return [s for s in self.of(athlete_id, lift) if s.kind == WARM_UP]

    def since(self, set_id: str) -> list[SetRow]:
        """This set and everybody's later ones, oldest first."""
        first = next((n for n, row in enumerate(self.all) if row.set_id == set_id), len(self.all))
        return self.all[first:]

    def row(self, set_id: str | None) -> SetRow | None:
        """One set; None: it is none of this session."""
        return next((s for s in self.all if s.set_id == set_id), None)

    def owner(self, set_id: str) -> str | None:
        """Whose set it is now."""
        row = self.row(set_id)
        return row.athlete_id if row else None

    def name_confirmed(self, set_id: str) -> bool:
        """Whether somebody said whose set this is; an unnamed set has no name to confirm."""
        row = self.row(set_id)
        return row is None or row.athlete_id is None or row.name_confirmed

    def _with_kinds(self, rows: Sequence[SetRow]) -> list[SetRow]:
        """Warm-up or work as load and name are now: a set whose load or name was corrected may have become the
        warm-up set."""
        found: list[SetRow] = []
        for row in rows:
            plan = self._plan_of(row.athlete_id, row.lift)
            if plan is not None:
                earlier = any(s.lift == row.lift and s.kind == WARM_UP for s in found)
                at_warmup = same_load(row.load_kg, plan.warmup_load_kg)
                row = replace(row, kind=WARM_UP if at_warmup and not earlier else "work")
            found.append(row)
        return found
