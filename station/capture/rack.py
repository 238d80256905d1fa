"""One rack: what the people at it do. Implements `RackActions`; the sensor's side is `RackCore`.

Lives in the capture worker's thread alone. What a person does to something measured is a correction in the record,
and can be undone.
"""

from __future__ import annotations

from dataclasses import replace

from station.capture.rack_core import RackCore
from station.capture.rack_view import Decision
from station.squad.athletes import Athlete
from station.squad.lifts import lift_named
from station.store.tables import new_id

GUEST = "Guest"


class Rack(RackCore):
    """Carries out what the sensor and the people at one rack do."""

    def sign_in(self, staff: str) -> None:
        """Decisions and corrections from now on carry this name."""
        self.state.staff = staff
        self.publish()

    def switch_athlete(self, athlete_id: str | None) -> None:
        """The bar belongs to this athlete from now on; an open set ends."""
        self._end_open_set("athlete switched")
        self._new_session_if_due()
        athlete = self.session.athlete(athlete_id)
        if athlete is not None:
            self.state.lineup = self.state.lineup.with_athlete(athlete)
        self.state.lineup = self.state.lineup.switch(athlete_id)
        self.state.set = None
        self._ready_for_next()
        self.publish()

    def add_guest(self) -> None:
        """Somebody who is not in the squad lifts here from now on; the name is completed later."""
        number = 1 + sum(a.name.startswith(GUEST) for a in self.setup.squad)
        guest = Athlete(new_id(), f"{GUEST} {number}", None, self.setup.name)
        self.record.add_athletes([guest])
        self.setup = replace(self.setup, squad=(*self.setup.squad, guest))
        self.session.setup = self.setup
        self.switch_athlete(guest.athlete_id)

    def name_set(self, set_id: str, athlete_id: str) -> None:
        """Move a set, reps and raw data, to this athlete."""
        before = self.session.owner(set_id)
        self._correct(set_id, "athlete_id", athlete_id, before)
        athlete = self.session.athlete(athlete_id)
        current = self.state.set
        if current is not None and current.set_id == set_id and athlete is not None:
            self.state.set = replace(current, athlete_id=athlete_id)
            self.state.lineup = self.state.lineup.with_athlete(athlete)
            if current.is_open or self.state.lineup.current is None:
                self.state.lineup = self.state.lineup.switch(athlete_id)
        self.publish()

    def set_lift(self, lift: str) -> None:
        """The lift from the next rep on; of an open set it is corrected."""
        name = lift_named(lift).name
        if self.state.set is not None and self.state.set.is_open:
            self._correct(self.state.set.set_id, "lift", name, self.state.lift)
        self.state.lift = name
        self._ready_for_next()
        self.publish()

    def set_load(self, load_kg: float) -> None:
        """The load from the next rep on; of an open set it is corrected."""
        before = self.state.load_kg
        if self.state.set is not None and self.state.set.is_open:
            self._correct(self.state.set.set_id, "load_kg", load_kg, before)
        else:
            self._undo.append(lambda: self._put_load(before))
        self._put_load(load_kg)
        self.publish()

    def end_set(self) -> None:
        """The set is over now."""
        self._measurement.end_set()
        self._end_open_set("by touch")
        self.publish()

    def strike_rep(self, rep_id: str, struck: bool) -> None:
        """Strike a rep out, or put it back."""
        self._correct(rep_id, "struck", struck, not struck)
        self.publish()

    def mark_effort(self, set_id: str, full: bool) -> None:
        """Whether the set was lifted with full intent."""
        self._correct(set_id, "full_effort", full, not full)
        self.publish()

    def decide(self, decision: Decision, load_kg: float | None = None) -> None:
        """The coach's decision about the suggestion of the athlete shown."""
        athlete_id = self.state.lineup.current
        chosen = self.session.decide(athlete_id, self.state.lift, decision, load_kg, self.state.staff)
        if chosen is not None:
            self._put_load(chosen)
        self.publish()

    def undo(self) -> None:
        """Take the last action of a person back."""
        if self._undo:
            self._undo.pop()()
            self.publish()

    def _put_load(self, load_kg: float) -> None:
        self.state.load_kg = load_kg

    def _correct(self, target_id: str, field: str, value: object, before: object) -> None:
        self._write_correction(target_id, field, value)
        self._undo.append(lambda: self._write_correction(target_id, field, before))

    def _write_correction(self, target_id: str, field: str, value: object) -> None:
        self.record.correct(target_id, field, value, self.state.staff)
        self.session.everything_changed()
        if field == "load_kg" and isinstance(value, float):
            self._put_load(value)
