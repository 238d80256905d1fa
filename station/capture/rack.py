"""One rack: what the people at it do. Implements `RackActions`. `RackSets` has bar and sets, `RackCore` the sensor.

Lives in the capture worker's thread alone. What a person does to something measured is a correction in the record,
and can be undone.
"""

from __future__ import annotations

from dataclasses import replace

from station.capture.goals import keep_goal, with_goal
from station.capture.rack_sets import RackSets
from station.capture.rack_settings import keep_settings
from station.capture.rack_setup import with_settings
from station.capture.rack_view import Band, Decision, RackPlan, ScreenSettings
from station.readiness.within_set import LEAST_STOP, MOST_STOP
from station.squad.athletes import Athlete
from station.squad.roster import RosterChange
from station.store.rack_things import pin_hashes
from station.store.roster import change_rows
from station.store.tables import new_id

GUEST = "Guest"


class Rack(RackSets):
    """Carries out what the sensor and the people at one rack do."""

    def sign_in(self, staff: str, pin: str = "") -> None:
        """Decisions and corrections from now on carry this name; with a PIN where this person has one."""
        if not self._lifting:
            self._new_session_if_due()  # before, since a new session begins with nobody signed in
        hashes = self._pins_now()
        self._standing.pick(staff)
        self.state.pin_words = self._sign_in_words(staff, pin, hashes.get(staff, ""))
        if not self.state.pin_words:
            self.state.staff = staff
        self.publish()

    def _sign_in_words(self, staff: str, pin: str, pin_hash: str) -> str:
        """Why this person is not signed in; "" if so."""
        if not pin_hash:
            return ""
        if not pin:
            return f"{staff} has a PIN: touch the name again, then type it."
        words = self._pins.refused(staff, pin, pin_hash)
        if not words:
            self._standing.opened()
        return words

    def set_pin(self, pin: str) -> None:
        """Whoever is signed in signs in with this PIN from now on; "" takes it away. As `PinChoice` allows it."""
        staff = self.state.staff
        if staff is None:
            self.state.pin_words = "Sign in first, then choose a PIN."
        else:
            self.state.pin_words = self._standing.refused(staff, self._pins_now()) or self._keep_pin(
                staff, pin
            )
        self.publish()

    def _keep_pin(self, staff: str, pin: str) -> str:
        try:
            pin_hash = self._pins.hashed(pin) if pin else ""
        except ValueError as error:
            return str(error)
        self.record.add_rows("staff_pins", [{"staff": staff, "pin_hash": pin_hash}])
        self._standing.pick(staff)
        if pin:
            self._standing.opened()
        self._pins_now()
        return "The PIN is kept." if pin else "No PIN any more."

    def _pins_now(self) -> dict[str, str]:
        """Who has a PIN by now, here or at the desk of this machine: the screen asks for it."""
        hashes = pin_hashes(self.record)
        if set(hashes) != set(self.setup.pin_needed):
            self._use_setup(replace(self.setup, pin_needed=tuple(hashes)))
        return hashes

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

    def use_settings(self, settings: ScreenSettings) -> None:
        """Change how the screen is set, and keep it."""
        before = self.setup.settings
        self._put_settings(settings)
        self._undo.add(lambda: self._put_settings(before))
        self.publish()

    def _put_settings(self, settings: ScreenSettings) -> None:
        keep_settings(self.record.database.folder, settings)
        self._use_setup(with_settings(self.setup, settings, self.record))

    def decide(self, decision: Decision, load_kg: float | None = None) -> None:
        """The coach's decision about the suggestion of the athlete shown."""
        athlete_id, lift, before_kg = self.state.lineup.current, self.state.lift, self.state.load_kg
        decisions = self.session.decisions
        if athlete_id is None or not decisions.possible(athlete_id, lift):
            return
        earlier, earlier_kg = decisions.of(athlete_id, lift), decisions.load_kg(athlete_id, lift)
        chosen = decisions.decide(athlete_id, lift, decision, load_kg, self.state.staff)

        def undo() -> None:
            decisions = self.session.decisions  # of a session that may have begun since
            if earlier is None:
                decisions.take_back(athlete_id, lift, self.state.staff)
            else:
                decisions.decide(athlete_id, lift, earlier, earlier_kg, self.state.staff)
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
