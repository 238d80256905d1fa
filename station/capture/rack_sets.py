"""What people do to the bar and to sets, open or over: each a correction in the record, each to be taken back.

Lives in the capture worker's thread alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from station.capture.rack_base import LOAD_RIGHT
from station.capture.rack_core import RackCore
from station.capture.rack_setup import RackSetup
from station.capture.rack_view import SetField
from station.capture.several_sets import corrections_for
from station.squad.lifts import lift_named
from station.squad.sets import same_load


class RackSets(RackCore):
    """Bar and sets; `Rack` adds who lifts, who coaches and what is decided."""

    def name_set(self, set_id: str, athlete_id: str) -> None:
        """Move a set, reps and raw data, to this athlete."""
        before = self.session.sets.owner(set_id)
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
        rows = self.session.sets.since(set_id)
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

    def undo(self) -> None:
        """Take the last action of a person back."""
        if self._undo.undo():
            self.publish()

    def use_bar(self, bar_kg: float) -> None:
        """The bar from the next set on, by its weighed mass."""
        before = self.setup.plates.bar_kg
        self._put_bar(bar_kg)
        self._undo.add(lambda: self._put_bar(before), until_next_set=True)
        self.publish()

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

    def _put_bar(self, bar_kg: float) -> None:
        self._use_setup(replace(self.setup, plates=replace(self.setup.plates, bar_kg=bar_kg)))
        self.state.on_bar = None
        self._equipment()

    def _put_load(self, load_kg: float) -> None:
        self.state.load_kg = load_kg
        self.troubles.pop(LOAD_RIGHT, None)

    def _use_setup(self, setup: RackSetup) -> None:
        self.setup = setup
        self.session.setup = setup

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
