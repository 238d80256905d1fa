"""What a rack is between sensor and people: its session, whose turn it is, what it takes up again after a power cut.

Lives in the capture worker's thread alone.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from datetime import date

from station.capture.lineup import LineUp
from station.capture.measurement import Measurement
from station.capture.pin_choice import PinChoice
from station.capture.pins import PinGate
from station.capture.rack_place import Place, keep_place, read_place
from station.capture.rack_setup import RackSetup
from station.capture.rack_state import OpenSet, RackState
from station.capture.rack_view import LiveTrace, RackView, TroubleLine
from station.capture.raw_keeper import RawKeeper
from station.capture.rest_check import KIND as CALIBRATION
from station.capture.rest_check import RestCheck
from station.capture.session import Session
from station.capture.surroundings import KINDS, Surroundings
from station.capture.undo import UndoStack
from station.capture.view_builder import build_view
from station.capture.wrong_pins import FILE_NAME, WrongPins
from station.motion.events import MotionEvent
from station.squad.lifts import lift_named
from station.squad.sets import equipment_words
from station.store.record import Record

Show = Callable[[RackView | LiveTrace], None]
LOOK_AROUND_EVERY_S = 60.0
LOAD_RIGHT = "load"  # the question about a speed far off the own line


class RackBase:
    """A rack without hands: `RackCore` adds what the sensor does, `Rack` what people do.

    Args:
        record: where everything is kept.
        setup: who and what this rack starts with.
        measurement: clock and engine.
        raw: keeps the raw samples.
        show: takes each new picture of the rack, and stretches of live velocity.
        today: the local day.
        surroundings: disk, clock, backup and shared database, looked at once a minute; None: not looked at.
        renew: what the desk has changed of squad, plans and calendar, asked for once a minute between sets; gives
            None while nothing has. None: never asked.
    """

    def __init__(
        self,
        record: Record,
        setup: RackSetup,
        measurement: Measurement,
        raw: RawKeeper,
        show: Show,
        today: Callable[[], date],
        surroundings: Surroundings | None = None,
        renew: Callable[[RackSetup], RackSetup | None] | None = None,
    ) -> None:
        self.record, self.setup = record, setup
        self._measurement, self._raw, self._show, self._today = measurement, raw, show, today
        self.troubles: dict[str, TroubleLine] = {}
        self._undo = UndoStack()
        self._waiting: deque[MotionEvent] = deque()
        self._pins = PinGate(time.monotonic, WrongPins(record.database.folder.parent / FILE_NAME))
        self._standing = PinChoice(time.monotonic)
        self._surroundings, self._renew = surroundings, renew
        self._rest = RestCheck()
        self._calibrated_for: str | None = None
        self._looked_at_s: float | None = None
        self.session = Session(record, setup, today())
        first = setup.group[0].athlete_id if setup.group else None
        self.state = RackState(LineUp(setup.group, first), setup.lift.name, 20.0)
        self._ready_for_next()
        self._kept_place: Place | None = None
        self.view: RackView | None = None
        self._take_up_place()
        self._take_up_open_set()
        self.publish()

    @property
    def _lifting(self) -> bool:
        return self.state.set is not None and self.state.set.is_open

    @property
    def sensor_address(self) -> str | None:
        """Of the sensor that streams here, or streamed last."""
        return self._calibrated_for

    @property
    def still_check(self) -> bool | None:
        """Whether the sensor at rest read gravity; None: it has not lain still yet."""
        return self._rest.passed

    def publish(self) -> None:
        """Show how the rack stands now."""
        if not self._lifting:
            self.session.look_anew()
        resting = {} if self._lifting or self._rest.trouble is None else {CALIBRATION: self._rest.trouble}
        self.state.can_undo = self._undo.possible
        self.view = build_view(self.setup, self.state, self.session, self.troubles | resting)
        self._show(self.view)
        self._keep_place()  # after the picture, which does not wait for this file
        self._prepare()

    def _prepare(self) -> None:
        """Have read what the first rep's picture rests on, of who lifts now and of who is proposed."""
        state, proposed = self.state, self.state.lineup.proposed
        self.session.prepare(state.lineup.current, state.lift, state.load_kg)
        if proposed is not None and not self._lifting:
            load_kg = self.session.next_load_kg(proposed, state.lift)
            self.session.prepare(proposed, state.lift, state.load_kg if load_kg is None else load_kg)

    def _look_around(self, host_now_s: float) -> None:
        """Another day, the desk, disk, clock, backup, shared database: once a minute, since none changes faster."""
        if self._looked_at_s is not None and host_now_s - self._looked_at_s < LOOK_AROUND_EVERY_S:
            return
        self._looked_at_s = host_now_s
        if not self._lifting:
            self._hear_the_desk()
            if self._new_session_if_due():
                self.publish()
        if self._surroundings is None:
            return
        found = {line.kind: line for line in self._surroundings.troubles(self.record)}
        before = {kind: line for kind, line in self.troubles.items() if kind in KINDS}
        if found != before:
            self.troubles = {k: v for k, v in self.troubles.items() if k not in KINDS} | found
            self.publish()

    def _hear_the_desk(self) -> None:
        """Squad, plans and calendar as the desk has them now; whoever is called up at this bar stays."""
        setup = self._renew(self.setup) if self._renew is not None else None
        if setup is None:
            return
        self.setup = replace(setup, settings=self.setup.settings, plates=self.setup.plates)
        self.session = Session(self.record, self.setup, self.session.day)
        self._equipment()
        self.state.lineup = self.state.lineup.with_squad(setup.group, setup.squad)
        self.publish()

    def _new_session_if_due(self) -> bool:
        """Another day, or three idle hours: what was is history now, and whoever coaches signs in anew."""
        today = self._today()
        if (today, self.record.session_now(today)) == (self.session.day, self.session.number):
            return False
        self.session = Session(self.record, self.setup, today)
        self.state.staff, self.state.set, self.state.on_bar = None, None, None
        self._standing.pick(None)
        self._undo = UndoStack()
        self._equipment()
        return True

    def _equipment(self) -> None:
        """Which sensor and bar the next set is lifted with, so that a change widens the usual range before it."""
        sensor = self.state.sensor
        if sensor.streaming:
            self.session.equipment = equipment_words(sensor.name, self.setup.plates.bar_kg)

    def _ready_for_next(self) -> None:
        """Load and range of motion for whoever lifts now."""
        self.session.look_at_the_clock()
        self.troubles.pop(LOAD_RIGHT, None)
        state = self.state
        load_kg = self.session.next_load_kg(state.lineup.current, state.lift)
        if load_kg is not None:
            state.load_kg = load_kg
        usual = self.session.of(state.lineup.current, state.lift).usual_range_of_motion_m
        self._measurement.new_set(lift_named(state.lift), usual)

    def _take_up_place(self) -> None:
        """After a power cut the same people stand at the same bar; a coach with a PIN signs in again."""
        place = read_place(self.record.database.folder)
        if place is None or not place.holds(self.session.day, self.session.number):
            return
        state, known = self.state, {a.athlete_id: a for a in self.setup.squad}
        kept = tuple(known[key] for key in place.group if key in known)
        new = tuple(a for a in self.setup.group if a not in kept)
        current, proposed = (key if key in known else None for key in (place.current, place.proposed))
        confirmed = place.confirmed and current is not None
        state.lineup = LineUp((*kept, *new), current, confirmed, proposed)
        state.lift, state.load_kg = place.lift, place.load_kg
        if place.staff in self.setup.staff and place.staff not in self.setup.pin_needed:
            state.staff = place.staff
        range_m = self.session.of(current, place.lift).usual_range_of_motion_m
        self._measurement.new_set(lift_named(place.lift), range_m)

    def _keep_place(self) -> None:
        state, lineup = self.state, self.state.lineup
        place = Place(
            self.session.day.isoformat(),
            self.session.number,
            tuple(a.athlete_id for a in lineup.group),
            lineup.current,
            lineup.confirmed,
            lineup.proposed,
            state.lift,
            state.load_kg,
            state.staff,
        )
        if place != self._kept_place:
            keep_place(self.record.database.folder, place)
            self._kept_place = place

    def _take_up_open_set(self) -> None:
        """A set that a power cut interrupted goes on: the same athlete, load and lift, with the next rep."""
        row = self.record.unended_set(self._today())
        if row is None or row.session != self.session.number:
            return
        state = self.state
        athlete = self.session.athlete(row.athlete_id)
        if athlete is not None:
            state.lineup = state.lineup.with_athlete(athlete)
        state.lineup = state.lineup.switch(row.athlete_id)
        state.lift, state.load_kg = row.lift, row.load_kg
        counted = [rep.number for rep in self.record.reps_of(row.set_id)]
        state.set = OpenSet(row.set_id, row.athlete_id, True, max(counted, default=0))
        self.session.set_begins(row.set_id)
        self.session.everything_changed()  # what was read before counted it
        self._measurement.new_set(
            lift_named(row.lift), self.session.of(row.athlete_id, row.lift).usual_range_of_motion_m
        )
        self._begin_raw(row.set_id)
        self.troubles["restart"] = TroubleLine(
            "restart", "The station was restarted in the middle of this set", "Lift on, or touch End set."
        )

    def _begin_raw(self, set_id: str) -> None:
        self._raw.begin(set_id)
        self._say_raw()

    def _say_raw(self) -> None:
        self.troubles.pop("raw", None)
        if self._raw.failure is not None:
            words = f"Raw samples of this set are not kept ({self._raw.failure})"
            self.troubles["raw"] = TroubleLine("raw", words, "Reps are; free disk space before the next set.")
