"""One rack: what the people at it do. Implements `RackActions`; the sensor's side is `RackCore`.

Lives in the capture worker's thread alone. What a person does to something measured is a correction in the record,
and can be undone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from station.capture.goals import keep_goal, with_goal
from station.capture.rack_base import LOAD_RIGHT
from station.capture.rack_core import RackCore
from station.capture.rack_settings import keep_settings
from station.capture.rack_setup import RackSetup, with_settings
from station.capture.rack_view import Band, Decision, RackPlan, ScreenSettings, SetField
from station.capture.several_sets import corrections_for
from station.readiness.within_set import LEAST_STOP, MOST_STOP
from station.squad.athletes import Athlete
from station.squad.lifts import lift_named
from station.squad.roster import RosterChange
from station.squad.sets import same_load
from station.store.rack_things import pin_hashes
from station.store.roster import change_rows
from station.store.tables import new_id

GUEST = "Guest"


class Rack(RackCore):
    """Carries out what the sensor and the people at one rack do."""

    def sign_in(self, staff: str, pin: str = "") -> None:
        """Decisions and corrections from now on carry this name; with a PIN where this person has one."""
        if not self._lifting:
            self._new_session_if_due()  # before, since a new session begins with nobody signed in
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
                self._use_setup(replace(self.setup, pin_needed=tuple(pin_hashes(self.record))))
            except ValueError as error:
                self.state.pin_words = str(error)
        self.publish()

    def switch_athlete(self, athlete_id: str | None) -> None:
        """The bar belongs to this athlete from now on; an open set ends, unless it is this athlete's own."""
        if self._lifting and athlete_id is not None and self.state.lineup.current == athlete_id:
            self._confirm_name()
        else:
            self._new_session_if_due()
            self._undo.add(self._way_back(), until_next_set=True)
            self._hand_over(athlete_id)
        self.publish()

    def _hand_over(self, athlete_id: str | None) -> None:
        self._end_open_set("athlete switched")
        athlete = self.session.athlete(athlete_id)
        if athlete is not None:
            self.state.lineup = self.state.lineup.with_athlete(athlete)
        self.state.lineup = self.state.lineup.switch(athlete_id)
        self.state.set = None
        self._ready_for_next()

    def _confirm_name(self) -> None:
        """Somebody says that it is indeed this athlete who lifts."""
        lineup, current = self.state.lineup, self.state.set
        if current is None or lineup.confirmed:
            return
        self._write_correction(current.set_id, "name_confirmed", True)
        self.state.lineup = replace(lineup, confirmed=True)

        def undo() -> None:
            self._write_correction(current.set_id, "name_confirmed", False)
            self.state.lineup = replace(self.state.lineup, confirmed=False)

        self._undo.add(undo)

    def _way_back(self) -> Callable[[], None]:
        """Puts turn, lift, load and an open set back as they are now."""
        state = self.state
        lineup, lift, load_kg, shown = state.lineup, state.lift, state.load_kg, state.set

        def undo() -> None:
            state.lineup, state.lift, state.load_kg = lineup, lift, load_kg
            if shown is not None and shown.is_open and not self._lifting:
                self._reopen(shown)
            else:
                state.set = shown
            usual = self.session.of(lineup.current, lift).usual_range_of_motion_m
            self._measurement.new_set(lift_named(lift), usual)

        return undo

    def add_guest(self) -> None:
        """Somebody who is not in the squad lifts here from now on; the name is completed later."""
        number = 1 + sum(a.name.startswith(GUEST) for a in self.setup.squad)
        guest = Athlete(new_id(), f"{GUEST} {number}", None, self.setup.name)
        self.record.add_athletes([guest])
        self._use_setup(replace(self.setup, squad=(*self.setup.squad, guest)))
        before = self._way_back()

        def undo() -> None:  # the row stays, of somebody who never was a member
            before()
            left = RosterChange(guest.athlete_id, "member", False, self._today())
            self.record.add_rows("roster_changes", change_rows([left], self.state.staff or ""))
            squad = tuple(a for a in self.setup.squad if a != guest)
            self._use_setup(replace(self.setup, squad=squad))

        self._new_session_if_due()
        self._undo.add(undo, until_next_set=True)
        self._hand_over(guest.athlete_id)
        self.publish()

    def _use_setup(self, setup: RackSetup) -> None:
        self.setup = setup
        self.session.setup = setup

    def name_set(self, set_id: str, athlete_id: str) -> None:
        """Move a set, reps and raw data, to this athlete."""
        before = self.session.owner(set_id)
        way_back = self._way_back()
        self._write_correction(set_id, "athlete_id", athlete_id)
        self.troubles.pop(LOAD_RIGHT, None)
        athlete = self.session.athlete(athlete_id)
        current = self.state.set
        if current is not None and current.set_id == set_id and athlete is not None:
            self.state.set = replace(current, athlete_id=athlete_id)
            self.state.lineup = self.state.lineup.with_athlete(athlete)
            if current.is_open or self.state.lineup.current is None:
                self.state.lineup = self.state.lineup.switch(athlete_id)

        def undo() -> None:
            self._write_correction(set_id, "athlete_id", before)
            now = self.state.set
            if now is not None and now.set_id == set_id:
                way_back()
                self.state.set = replace(now, athlete_id=before)

        self._undo.add(undo)
        self.publish()

    def set_lift(self, lift: str) -> None:
        """The lift from the next rep on; of an open set it is corrected."""
        name, before = lift_named(lift).name, self.state.lift
        if self._lifting and self.state.set is not None:
            set_id = self.state.set.set_id
            self._write_correction(set_id, "lift", name)

            def undo() -> None:
                self._write_correction(set_id, "lift", before)
                if self.state.set is not None and self.state.set.set_id == set_id:
                    self.state.lift = before

            self._undo.add(undo)
        else:
            self._undo.add(self._way_back(), until_next_set=True)
        self.state.lift = name
        self._ready_for_next()
        self.publish()

    def set_load(self, load_kg: float) -> None:
        """The load from the next rep on; of an open set it is corrected."""
        before = self.state.load_kg
        if self.state.set is not None and self.state.set.is_open:
            self._correct(self.state.set.set_id, "load_kg", load_kg, before)
        else:
            self._undo.add(lambda: self._put_load(before), until_next_set=True)
        self._put_load(load_kg)
        self.publish()

    def correct_from(self, set_id: str, field: SetField, value: float | str) -> None:
        """Correct load, bar or lift of this set and the later ones it concerns: one step, also to undo."""
        rows = self.session.sets_from(set_id)
        there, back = corrections_for(rows, field, value, self.setup.plates.bar_kg)
        state = self.state
        before = (state.load_kg, state.lift, self.setup)
        self.record.add_rows("corrections", [{**row, "staff": state.staff, "why": ""} for row in there])
        if field == "bar_kg" and isinstance(value, float):
            self._put_bar(value)
        elif field == "load_kg" and isinstance(value, float):
            if rows and same_load(state.load_kg, rows[0].load_kg):  # it still hangs on the bar
                state.load_kg = value
        elif isinstance(value, str) and rows and state.lift == rows[0].lift:
            state.lift = value

        def undo() -> None:
            self.record.add_rows("corrections", [{**row, "staff": state.staff, "why": ""} for row in back])
            state.load_kg, state.lift, setup = before
            self._use_setup(setup)
            self.session.everything_changed()

        self._undo.add(undo)
        self.troubles.pop(LOAD_RIGHT, None)
        self.session.everything_changed()
        self.publish()

    def give_badge(self, code: str, athlete_id: str) -> None:
        """This badge is this athlete's from now on."""
        before = dict(self.setup.badges).get(code, "")
        self._put_badge(code, athlete_id)
        self._undo.add(lambda: self._put_badge(code, before))
        self.publish()

    def _put_badge(self, code: str, athlete_id: str) -> None:
        self.record.add_rows("badges", [{"code": code, "athlete_id": athlete_id}])
        kept = tuple((c, who) for c, who in self.setup.badges if c != code)
        self._use_setup(replace(self.setup, badges=(*kept, *(((code, athlete_id),) if athlete_id else ()))))

    def use_bar(self, bar_kg: float) -> None:
        """The bar from the next set on, by its weighed mass."""
        before = self.setup.plates.bar_kg
        self._put_bar(bar_kg)
        self._undo.add(lambda: self._put_bar(before), until_next_set=True)
        self.publish()

    def use_settings(self, settings: ScreenSettings) -> None:
        """Change how the screen is set, and keep it."""
        before = self.setup.settings
        self._put_settings(settings)
        self._undo.add(lambda: self._put_settings(before))
        self.publish()

    def _put_settings(self, settings: ScreenSettings) -> None:
        keep_settings(self.record.database.folder, settings)
        self._use_setup(with_settings(self.setup, settings, self.record))

    def _put_bar(self, bar_kg: float) -> None:
        self._use_setup(replace(self.setup, plates=replace(self.setup.plates, bar_kg=bar_kg)))
        self.state.on_bar = None
        self._equipment()

    def end_set(self) -> None:
        """The set is over now."""
        if self._lifting:
            self._undo.add(self._way_back(), until_next_set=True)
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
        athlete_id, lift, before_kg = self.state.lineup.current, self.state.lift, self.state.load_kg
        if athlete_id is None or not self.session.can_decide(athlete_id, lift):
            return
        earlier, earlier_kg = (
            self.session.decision(athlete_id, lift),
            self.session.decided_kg(athlete_id, lift),
        )
        chosen = self.session.decide(athlete_id, lift, decision, load_kg, self.state.staff)

        def undo() -> None:
            if earlier is None:
                self.session.take_decision_back(athlete_id, lift, self.state.staff)
            else:
                self.session.decide(athlete_id, lift, earlier, earlier_kg, self.state.staff)
            if self.state.lineup.current == athlete_id and not self._lifting:
                self._put_load(before_kg)

        self._undo.add(undo)
        if chosen is not None:
            self._put_load(chosen)
        self.publish()

    def use_goal(self, stop_loss: float | None, band_m_s: Band | None) -> None:
        """Where this athlete's sets of this lift stop, and the target band, from now on; None: neither."""
        if stop_loss is not None and not LEAST_STOP <= stop_loss <= MOST_STOP:
            raise ValueError(f"a stop lies between 10 and 40 %, not at {100 * stop_loss:g} %")
        key = (self.state.lineup.current or "", self.state.lift)
        before = self.setup.plans.get(key)
        if before is None:
            return
        self._put_goal(with_goal(before, stop_loss, band_m_s))
        self._undo.add(lambda: self._put_goal(before))
        self.publish()

    def _put_goal(self, plan: RackPlan) -> None:
        keep_goal(self.record, plan, self._today(), self.state.staff or "")
        self._use_setup(replace(self.setup, plans=self.setup.plans | {(plan.athlete_id, plan.lift): plan}))
        self.session.everything_changed()

    def undo(self) -> None:
        """Take the last action of a person back."""
        if self._undo.undo():
            self.publish()

    def _put_load(self, load_kg: float) -> None:
        self.state.load_kg = load_kg
        self.troubles.pop(LOAD_RIGHT, None)

    def _correct(self, target_id: str, field: str, value: object, before: object) -> None:
        self._write_correction(target_id, field, value)
        self._undo.add(lambda: self._write_correction(target_id, field, before))

    def _write_correction(self, target_id: str, field: str, value: object) -> None:
        self.record.correct(target_id, field, value, self.state.staff)
        self.session.everything_changed()
        current = self.state.set
        on_the_bar = current is not None and current.is_open and current.set_id == target_id
        if field == "load_kg" and isinstance(value, float) and on_the_bar:
            self._put_load(value)
