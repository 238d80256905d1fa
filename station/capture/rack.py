"""One rack: what the people at it do. Implements `RackActions`; the sensor's side is `RackCore`.

Lives in the capture worker's thread alone. What a person does to something measured is a correction in the record,
and can be undone.
"""

from __future__ import annotations

from dataclasses import replace

from station.capture.rack_core import RackCore
from station.capture.rack_settings import keep_settings
from station.capture.rack_setup import with_settings
from station.capture.rack_view import Decision, ScreenSettings, SetField
from station.capture.several_sets import corrections_for
from station.squad.athletes import Athlete
from station.squad.lifts import lift_named
from station.store.rack_things import pin_hashes
from station.store.tables import new_id

GUEST = "Guest"


class Rack(RackCore):
    """Carries out what the sensor and the people at one rack do."""

    def sign_in(self, staff: str, pin: str = "") -> None:
        """Decisions and corrections from now on carry this name; with a PIN where this person has one."""
        pin_hash = pin_hashes(self.record).get(staff, "")
        self.state.pin_words = self._pins.refused(staff, pin, pin_hash) if pin_hash else ""
        if not self.state.pin_words:
            self.state.staff = staff
        self.publish()

    def set_pin(self, pin: str) -> None:
        """Whoever is signed in signs in with this PIN from now on; "" takes it away."""
        if self.state.staff is None:
            self.state.pin_words = "Sign in first, then choose a PIN."
        else:
            try:
                pin_hash = self._pins.hashed(pin) if pin else ""
                self.record.add_rows("staff_pins", [{"staff": self.state.staff, "pin_hash": pin_hash}])
                self.state.pin_words = "The PIN is kept." if pin else "No PIN any more."
                self.setup = replace(self.setup, pin_needed=tuple(pin_hashes(self.record)))
                self.session.setup = self.setup
            except ValueError as error:
                self.state.pin_words = str(error)
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

    def correct_from(self, set_id: str, field: SetField, value: float | str) -> None:
        """Correct load, bar or lift of this set and the later ones it concerns: one step, also to undo."""
        there, back = corrections_for(self.session.sets_from(set_id), field, value, self.setup.plates.bar_kg)
        state = self.state
        before = (state.load_kg, state.lift, self.setup)
        self.record.add_rows("corrections", [{**row, "staff": state.staff, "why": ""} for row in there])
        if field == "bar_kg" and isinstance(value, float):
            self._put_bar(value)
        elif field == "load_kg" and isinstance(value, float):
            state.load_kg = value
        elif isinstance(value, str):
            state.lift = value

        def undo() -> None:
            self.record.add_rows("corrections", [{**row, "staff": state.staff, "why": ""} for row in back])
            state.load_kg, state.lift, self.setup = before
            self.session.setup = self.setup
            self.session.everything_changed()

        self._undo.append(undo)
        self.session.everything_changed()
        self.publish()

    def give_badge(self, code: str, athlete_id: str) -> None:
        """This badge is this athlete's from now on."""
        self.record.add_rows("badges", [{"code": code, "athlete_id": athlete_id}])
        kept = tuple((c, who) for c, who in self.setup.badges if c != code)
        self.setup = replace(self.setup, badges=(*kept, (code, athlete_id)))
        self.session.setup = self.setup
        self.publish()

    def use_bar(self, bar_kg: float) -> None:
        """The bar from the next set on, by its weighed mass."""
        before = self.setup.plates.bar_kg
        self._put_bar(bar_kg)
        self._undo.append(lambda: self._put_bar(before))
        self.publish()

    def use_settings(self, settings: ScreenSettings) -> None:
        """Change how the screen is set, and keep it."""
        keep_settings(self.record.database.folder, settings)
        self.setup = with_settings(self.setup, settings, self.record)
        self.session.setup = self.setup
        self.publish()

    def _put_bar(self, bar_kg: float) -> None:
        self.setup = replace(self.setup, plates=replace(self.setup.plates, bar_kg=bar_kg))
        self.session.setup = self.setup
        self.state.on_bar = None
        self._equipment()

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
