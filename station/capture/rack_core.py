"""What the sensor does at a rack: every rep from the engine into the record, then to the screen; sets begin and end.

Lives in the capture worker's thread alone. Measurement first, record second, picture last: a rep that could not
be made durable waits and is tried again, and is not painted before it is on the disk.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from datetime import date

from drivers.samples import SampleBlock
from station import __version__
from station.capture.lineup import DONE, LineUp, to_do
from station.capture.link_news import LinkNews
from station.capture.measurement import Measurement
from station.capture.pins import PinGate
from station.capture.rack_place import Place, keep_place, read_place
from station.capture.rack_setup import RackSetup
from station.capture.rack_state import OpenSet, RackState
from station.capture.rack_view import LiveTrace, RackView, RepStatus, TroubleLine
from station.capture.raw_keeper import RawKeeper
from station.capture.rep_row import failed_rep, measured_rep, unmeasured_rep
from station.capture.rest_check import KIND as CALIBRATION
from station.capture.rest_check import RestCheck
from station.capture.session import Session
from station.capture.surroundings import KINDS, Surroundings
from station.capture.trouble_words import trouble_line
from station.capture.undo import UndoStack
from station.capture.view_builder import build_view
from station.motion.events import FailedRep, Gap, MotionEvent, NotMeasured, RepMeasured, SetEnd, Trouble
from station.readiness.bar_change import change_on_bar
from station.squad.lifts import lift_named
from station.squad.sets import equipment_words, same_load
from station.store.errors import WriteFailed
from station.store.record import Record
from station.store.rows import NewRep, NewSet

Show = Callable[[RackView | LiveTrace], None]
SYNC_EVERY_S = 1.0
LOOK_AROUND_EVERY_S = 60.0
A_REP_FITS_S = 0.5
# An unchanged athlete is this far from the own line less than once in ten thousand sets.
FAR_OFF_SDS = 4.0


class RackCore:
    """The part of a rack that the sensor drives; `Rack` adds what people do.

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
        self._pins = PinGate(time.monotonic)
        self._synced_at_s = 0.0
        self._surroundings, self._renew = surroundings, renew
        self._rest = RestCheck()
        self._looked_at_s: float | None = None
        self.session = Session(record, setup, today())
        first = setup.group[0].athlete_id if setup.group else None
        self.state = RackState(LineUp(setup.group, first), setup.lift.name, 20.0)
        self._ready_for_next()
        self._kept_place: Place | None = None
        self._take_up_place()
        self._take_up_open_set()
        self.publish()

    # -- what the sensor does --------------------------------------------------------------------------------

    def samples(self, block: SampleBlock) -> None:
        """Samples from the link."""
        self._raw.add(block)
        if len(block) and self.troubles.pop("silence", None) is not None:
            self.publish()
        self._handle(self._measurement.feed(block))
        self._look_at_rest(block)
        trace = self._measurement.live()
        if trace is not None:
            self._show(trace)

    def link(self, news: LinkNews) -> None:
        """News of the link."""
        self.state.sensor = news.sensor
        self._equipment()
        for kind, trouble in (("link", news.trouble), ("quality", news.quality), ("note", news.note)):
            self.troubles.pop(kind, None)
            if trouble is not None:
                self.troubles[kind] = trouble
        if not news.sensor.streaming:
            self._rest.forget()
        if news.facts is not None:
            self._measurement.use(news.facts)
        if news.address is not None and self.record.claimed_sensor() != (news.sensor.name, news.address):
            self.record.claim_sensor(news.sensor.name, news.address)
        self.publish()

    def tick(self, host_now_s: float) -> None:
        """Time passes: silence, reps that wait for the disk, the journal's second."""
        self._handle(self._measurement.advance(host_now_s))
        if host_now_s - self._synced_at_s >= SYNC_EVERY_S:
            self._synced_at_s = host_now_s
            self.retry()
            self._raw.sync()
            self._say_raw()
            self._look_around(host_now_s)

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

    @property
    def _lifting(self) -> bool:
        return self.state.set is not None and self.state.set.is_open

    def _look_at_rest(self, block: SampleBlock) -> None:
        """Between sets the bar rests: does the sensor read gravity?"""
        if self._lifting:
            self._rest.forget()
        elif self._rest.take(block):
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

    def retry(self) -> None:
        """Try again to save what the disk refused."""
        self._handle([])

    def close(self) -> None:
        """The rack closes: an open set ends, its raw samples are finished."""
        self._end_open_set("station closed")

    def _handle(self, events: list[MotionEvent]) -> None:
        self._waiting.extend(events)
        if not self._waiting:
            return
        try:
            while self._waiting:
                self._one(self._waiting[0])
                self._waiting.popleft()
            self.troubles.pop("disk", None)
        except WriteFailed as error:
            self.troubles["disk"] = TroubleLine(
                "disk", str(error), "Free disk space; reps wait meanwhile.", True
            )
        self.publish()

    def _one(self, event: MotionEvent) -> None:
        if isinstance(event, RepMeasured):
            self._rep(lambda number: measured_rep(event, number))
        elif isinstance(event, NotMeasured):
            self._rep(lambda number: unmeasured_rep(event, number))
        elif isinstance(event, FailedRep):
            self._rep(lambda _number: failed_rep(event))
        elif isinstance(event, SetEnd):
            self._end_open_set(event.reason)
        elif isinstance(event, Trouble):
            self.troubles[event.kind] = trouble_line(event)
        elif isinstance(event, Gap):
            self._say_hole(event)

    def _say_hole(self, gap: Gap) -> None:
        """A hole in a set that a rep fits into is said until the set is over."""
        length_s = gap.end_time_s - gap.start_time_s
        if length_s >= A_REP_FITS_S and self.state.set is not None and self.state.set.is_open:
            self.troubles["hole"] = TroubleLine(
                "hole",
                f"{length_s:.1f} s of this set were not received",
                "A rep in that time is not measured.",
            )

    def _rep(self, row_for: Callable[[int], NewRep]) -> None:
        open_set = self._open_set()
        row = row_for(open_set.reps + 1)
        self.record.add_rep(open_set.set_id, row)
        counted = row.status != RepStatus.FAILED
        self.state.set = replace(open_set, reps=open_set.reps + counted)
        for kind in ("silence", "bad_samples", "rate_jump", "load"):
            self.troubles.pop(kind, None)
        self._ask_about_load(row)

    def _ask_about_load(self, row: NewRep) -> None:
        """A speed far off the athlete's own line is more likely a wrong load than a new athlete."""
        state = self.state
        usual = self.session.usual_at(state.lineup.current, state.lift, state.load_kg)
        speed = row.mean_velocity_m_s
        if row.number != 1 or speed is None or usual is None or not usual.enough_history:
            return
        if abs(speed - usual.expected_m_s) > FAR_OFF_SDS * usual.sd_m_s:
            words = f"Load right? {speed:.2f} m/s is far from this athlete's {usual.expected_m_s:.2f}"
            self.troubles["load"] = TroubleLine("load", words, "Check plates and name; correct them here.")

    def _open_set(self) -> OpenSet:
        state = self.state
        if state.set is not None and state.set.is_open:
            return state.set
        self._new_session_if_due()
        self._undo.set_begins()
        for kind in ("sensor_fell", "sensor_slipped"):
            self.troubles.pop(kind, None)
        proposed = state.lineup.proposed
        state.lineup = state.lineup.set_begins()
        if proposed is not None:
            self._ready_for_next()
        athlete_id = state.lineup.current
        change = change_on_bar(self.setup.plates, state.on_bar, state.load_kg, self.setup.settings.unit)
        state.on_bar = change.plates if change else None
        set_id = self.record.begin_set(self._new_set(athlete_id))
        self._begin_raw(set_id)
        state.set = OpenSet(set_id, athlete_id, True)
        self.session.set_begins(set_id)
        return state.set

    def _new_set(self, athlete_id: str | None) -> NewSet:
        state = self.state
        return NewSet(
            athlete_id,
            state.lineup.confirmed,
            self._today(),
            self.session.number,
            state.lift,
            state.load_kg,
            self._kind(athlete_id),
            state.staff,
            state.sensor.name,
            sensor_range_m_s2=self._measurement.range_m_s2,
            usual_range_of_motion_m=self.session.of(athlete_id, state.lift).usual_range_of_motion_m,
            bar_kg=self.setup.plates.bar_kg,
            plates=[[mass, n] for mass, n in state.on_bar.plates] if state.on_bar else None,
            engine_version=__version__,
        )

    def _kind(self, athlete_id: str | None) -> str:
        plan = self.session.plan(athlete_id, self.state.lift)
        if plan is None or not same_load(self.state.load_kg, plan.warmup_load_kg):
            return "work"
        return "work" if self.session.warmup_done(plan) else "warm-up"

    def _end_open_set(self, reason: str) -> None:
        open_set = self.state.set
        if open_set is None or not open_set.is_open:
            return
        self.record.end_set(open_set.set_id, reason)
        self.troubles.pop("hole", None)
        file = self._raw.end()
        self._say_raw()
        if file is not None:
            self.record.add_raw_file(open_set.set_id, file.file, file.samples, file.sha256)
        for kind in ("restart", "load"):
            self.troubles.pop(kind, None)
        self.state.set = replace(open_set, is_open=False)
        self.session.set_ends(open_set.athlete_id)
        self.state.lineup = self.state.lineup.set_over(self._has_something_to_do)

    def _has_something_to_do(self, athlete_id: str) -> bool:
        lift = self.state.lift
        plan = self.session.plan(athlete_id, lift)
        return to_do(plan, self.session.sets_of(athlete_id), lift) != DONE

    def _reopen(self, ended: OpenSet) -> None:
        """A set that somebody ended goes on, as long as no other has begun."""
        self.state.set = ended
        self.session.set_begins(ended.set_id)
        self.session.everything_changed()
        self._begin_raw(ended.set_id)

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

    def _equipment(self) -> None:
        """Which sensor and bar the next set is lifted with, so that a change widens the usual range before it."""
        sensor = self.state.sensor
        if sensor.streaming:
            self.session.equipment = equipment_words(sensor.name, self.setup.plates.bar_kg)

    def _new_session_if_due(self) -> bool:
        """Another day, or three idle hours: what was is history now, and whoever coaches signs in anew."""
        today = self._today()
        if (today, self.record.session_now(today)) == (self.session.day, self.session.number):
            return False
        self.session = Session(self.record, self.setup, today)
        self.state.staff, self.state.set, self.state.on_bar = None, None, None
        self._undo = UndoStack()
        self._equipment()
        return True

    def _ready_for_next(self) -> None:
        """Load and range of motion for whoever lifts now."""
        state = self.state
        load_kg = self.session.next_load_kg(state.lineup.current, state.lift)
        if load_kg is not None:
            state.load_kg = load_kg
        usual = self.session.of(state.lineup.current, state.lift).usual_range_of_motion_m
        self._measurement.new_set(lift_named(state.lift), usual)

    def publish(self) -> None:
        """Show how the rack stands now."""
        self.session.look_anew()
        self._keep_place()
        resting = {} if self._lifting or self._rest.trouble is None else {CALIBRATION: self._rest.trouble}
        self.state.can_undo = self._undo.possible
        self._show(build_view(self.setup, self.state, self.session, self.troubles | resting))
