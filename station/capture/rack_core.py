"""What the sensor does at a rack: every rep from the engine into the record, then to the screen; sets begin and end.

Lives in the capture worker's thread alone. Measurement first, record second, picture last: a rep that could not
be made durable waits and is tried again, and is not painted before it is on the disk.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from drivers.samples import SampleBlock
from station import __version__
from station.capture.chores import Chore
from station.capture.kept_calibration import kept_calibration
from station.capture.lineup import DONE, to_do
from station.capture.link_news import LinkNews
from station.capture.rack_base import LOAD_RIGHT, RackBase
from station.capture.rack_base import Show as Show
from station.capture.rack_state import OpenSet
from station.capture.rack_view import RepStatus, TroubleLine
from station.capture.rep_row import failed_rep, measured_rep, unmeasured_rep
from station.capture.rest_check import RestCheck
from station.capture.trouble_words import trouble_line
from station.motion.events import FailedRep, Gap, MotionEvent, NotMeasured, RepMeasured, SetEnd, Trouble
from station.readiness.bar_change import change_on_bar
from station.squad.sets import same_load
from station.store.erasure import catch_up, forget_raw
from station.store.errors import WriteFailed
from station.store.rack_things import take_decisions
from station.store.rows import NewRep, NewSet

SYNC_EVERY_S = 1.0
A_REP_FITS_S = 0.5
HEAR_EVERY_S = 5.0  # a room of racks writes all the time; the history of one athlete does not change so fast
# An unchanged athlete is this far from the own line less than once in ten thousand sets.
FAR_OFF_SDS = 4.0


class RackCore(RackBase):
    """The part of a rack that the sensor drives; `Rack` adds what people do."""

    _synced_at_s = 0.0
    _news_waits, _heard_at_s = False, 0.0
    _decisions_wait = False
    chores: tuple[Chore, ...] = ()

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
        told = {"link": news.trouble, "book": news.book, "quality": news.quality, "note": news.note}
        for kind, trouble in told.items():
            self.troubles.pop(kind, None)
            if trouble is not None:
                self.troubles[kind] = trouble
        if not news.sensor.streaming:
            self._rest.forget()
        if news.facts is not None:
            self._measurement.use(news.facts)
        if news.address is not None and news.address != self._calibrated_for:
            self._calibrate(news.address)
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
            self._hear_decisions()
            self._hear_news(host_now_s)
            self._look_around(host_now_s)

    def news(self, tables: frozenset[str]) -> None:
        """Rows of these tables came from other racks or the desk, or went; looked at between sets.

        Args:
            tables: "erasures" is applied at once, also when it is whoever lifts here.
        """
        if "erasures" in tables:
            catch_up(self.record)
            self._let_go_of_the_erased()
        self.record.look_at_ids()
        self._news_waits = True
        if "decisions" in tables:
            self._decisions_wait = True
            self._hear_decisions()

    def decided_elsewhere(self, rows: list[dict[str, Any]]) -> None:
        """The desk of this machine decided about suggestions of this rack.

        Args:
            rows: of the table `decisions`, as the desk wrote them.
        """
        if take_decisions(self.record, rows):
            self._decisions_wait = True
            self._hear_decisions()

    def _hear_decisions(self) -> None:
        """What was decided at the desk stands on the screen, and on the bar: between sets, as when decided here."""
        if not self._decisions_wait or self._lifting:
            return
        self._decisions_wait = False
        athlete_id, lift = self.state.lineup.current, self.state.lift
        decisions = self.session.decisions
        before = decisions.of(athlete_id, lift), decisions.load_kg(athlete_id, lift)
        decisions.forget()
        now = decisions.of(athlete_id, lift), decisions.load_kg(athlete_id, lift)
        if now == before:
            return
        load_kg = self.session.next_load_kg(athlete_id, lift)
        if load_kg is not None:
            self.state.load_kg = load_kg
            self.troubles.pop(LOAD_RIGHT, None)
        self.publish()

    def _hear_news(self, host_now_s: float) -> None:
        if not self._news_waits or self._lifting or host_now_s - self._heard_at_s < HEAR_EVERY_S:
            return
        self._news_waits, self._heard_at_s = False, host_now_s
        self._looked_at_s = None  # squad, plans and calendar may be others now
        self.session.everything_changed()
        self.publish()

    def _let_go_of_the_erased(self) -> None:
        """Whoever lifted here was erased: the set is gone, and what is lifted from here on is nobody's yet."""
        current = self.state.set
        if current is None or self.record.has_set(current.set_id):
            return
        file = self._raw.end()
        if file is not None:
            forget_raw(self.record.database.folder, [current.set_id])
        self.state.set = None
        self.state.lineup = self.state.lineup.switch(None)
        self.session.set_ends(current.athlete_id)
        self.session.everything_changed()
        self.publish()

    def _calibrate(self, address: str) -> None:
        """Another sensor streams: what is kept of its calibration takes its errors out from now on."""
        self._calibrated_for = address
        calibration = kept_calibration(self.record.database.folder.parent, address)
        if calibration is not None or self._measurement.calibration is not None:
            self._measurement.calibrate(calibration)
        self._rest = RestCheck(calibration)

    def _look_at_rest(self, block: SampleBlock) -> None:
        """Between sets the bar rests: does the sensor read gravity?"""
        if self._lifting:
            self._rest.forget()
        elif self._rest.take(block):
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
        for kind in ("silence", "bad_samples", "rate_jump"):
            self.troubles.pop(kind, None)
        self._ask_about_load(row)

    def _ask_about_load(self, row: NewRep) -> None:
        """A speed far off the athlete's own line is more likely a wrong load than a new athlete. Asked until load,
        lift or name is touched, or the next set begins."""
        state = self.state
        usual = self.session.usual_at(state.lineup.current, state.lift, state.load_kg)
        speed = row.mean_velocity_m_s
        if row.number != 1 or speed is None or usual is None or not usual.enough_history:
            return
        if abs(speed - usual.expected_m_s) > FAR_OFF_SDS * usual.sd_m_s:
            words = f"Load right? {speed:.2f} m/s is far from this athlete's {usual.expected_m_s:.2f}"
            self.troubles[LOAD_RIGHT] = TroubleLine(
                LOAD_RIGHT, words, "Check plates and name; correct them here."
            )

    def _open_set(self) -> OpenSet:
        state = self.state
        if state.set is not None and state.set.is_open:
            self._let_go_of_the_erased()
        if state.set is not None and state.set.is_open:
            return state.set
        self._new_session_if_due()
        self._undo.set_begins()
        for kind in ("sensor_fell", "sensor_slipped", LOAD_RIGHT):
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
            calibration=self._measurement.calibration.as_row() if self._measurement.calibration else None,
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
        self._let_go_of_the_erased()
        open_set = self.state.set
        if open_set is None or not open_set.is_open:
            return
        self.record.end_set(open_set.set_id, reason)
        self.troubles.pop("hole", None)
        file = self._raw.end()
        self._say_raw()
        if file is not None:
            self.record.add_raw_file(open_set.set_id, file.file, file.samples, file.sha256)
        self.troubles.pop("restart", None)
        self.state.set = replace(open_set, is_open=False)
        self.session.set_ends(open_set.athlete_id)
        self.state.lineup = self.state.lineup.set_over(self._has_something_to_do)

    def _has_something_to_do(self, athlete_id: str) -> bool:
        lift = self.state.lift
        plan = self.session.plan(athlete_id, lift)
        return to_do(plan, self.session.sets.of(athlete_id), lift) != DONE

    def _reopen(self, ended: OpenSet) -> None:
        """A set that somebody ended goes on, as long as no other has begun."""
        self.state.set = ended
        self.session.set_begins(ended.set_id)
        self.session.everything_changed()
        self._begin_raw(ended.set_id)
