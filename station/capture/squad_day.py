"""The squad's day out of the record: everybody's three measures in their own usual ranges, as the staff's list."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from sqlalchemy import Connection

from station.capture.squad_bars import SHOWN_DAYS, SquadBars
from station.capture.squad_histories import SquadHistories
from station.capture.squad_read import SquadDay as SquadDay
from station.capture.squad_read import SquadRead
from station.readiness.checkin_place import SumPlace, place_check_in
from station.readiness.jump_place import place_jump
from station.readiness.own_usual import OwnUsual
from station.readiness.squad_rules import Measure, SquadRules
from station.readiness.squad_values import AthleteDay, Reading
from station.squad.athletes import TrainingStatus
from station.squad.calendar import AfterMatches, day_label, judged, jump_line_due
from station.squad.checkins import CheckIn, CheckInKind
from station.squad.roster import RosterLine
from station.store import checkins, roster, staff_list
from station.store.record import Record

LOW_ITEM_Z, ITEMS_NAMED = -1.5, 2
CM = 100.0


def squad_day(
    record: Record, now: datetime, rules: SquadRules | None = None, bars: SquadBars | None = None
) -> SquadDay:
    """The squad's day as the record has it, with check-in answers; arguments as of `read_squad`."""
    return read_squad(record, now, rules, bars).opened()


def read_squad(
    record: Record,
    now: datetime,
    rules: SquadRules | None = None,
    bars: SquadBars | None = None,
    histories: SquadHistories | None = None,
) -> SquadRead:
    """What the record says of the squad's day.

    Args:
        now: local date and time.
        bars, histories: what the desk has computed and read before.
    """
    day = now.date()
    bars = bars or SquadBars(record.database.folder)
    rules = rules or SquadRules()
    with record.database.read() as connection:
        facts = _Facts(connection, day, bars, histories or SquadHistories(), rules)
        roles = staff_list.staff_roles(connection)
    athletes = tuple(facts.athlete(line) for line in facts.members)
    label, jumps = day_label(day, facts.matches, facts.byes), jump_line_due(day, facts.matches)
    return SquadRead(athletes, label, jumps, roles, now, rules)


class _Facts:
    """Everything of everybody, read once."""

    def __init__(
        self,
        connection: Connection,
        day: date,
        bars: SquadBars,
        histories: SquadHistories,
        rules: SquadRules,
    ) -> None:
        self.day = day
        self._open_since = day - timedelta(days=rules.open_days)
        self.members = [line for line in roster.roster(connection, day) if line.member]
        self.matches = roster.match_dates(connection)
        self.byes = roster.bye_weeks(connection)
        self._after = AfterMatches(self.matches, roster.played_days(connection))
        self._judged, self._jump_line = judged(day, self.matches), jump_line_due(day, self.matches)
        histories.read(connection, day, self._after)
        self._jumps, self._jump_sd = histories.jumps, histories.jump_sd_m
        self._check_ins, self._sum_sd = histories.check_ins, histories.sum_sd
        self._consents = checkins.consents_now(connection)
        self._bars = bars.places(connection, day, self.matches)
        self._events = staff_list.entry_events_since(connection, self._open_since)
        self._done = self._done_today()

    def athlete(self, line: RosterLine) -> AthleteDay:
        """One athlete's day."""
        key = line.athlete.athlete_id
        own = self._check_ins.get(key, [])
        today = next((one for one in reversed(own) if one.day == self.day), None)
        readings = (self._bar(key), self._jump(key), self._check_in(own))
        return AthleteDay(
            line,
            tuple(r for r in readings if r is not None and (self.day - r.day).days <= SHOWN_DAYS),
            today,
            tuple(one for one in own if one.unwell and self._open_since <= one.day <= self.day),
            self._due(line),
            self._after.of(key, self.day),
            self._judged,
            tuple(self._events.get(key, ())),
        )

    def _due(self, line: RosterLine) -> frozenset[Measure]:
        """What others have done today, or the calendar proposes; only the check-in of those who are out."""
        due = set()
        if self._done[Measure.CHECK_IN] and self._consents.get(line.athlete.athlete_id, True):
            due.add(Measure.CHECK_IN)
        if line.athlete.status is not TrainingStatus.OUT:
            if self._done[Measure.JUMP] or self._jump_line:
                due.add(Measure.JUMP)
            if self._done[Measure.BAR] and line.athlete.athlete_id in self._bars:
                due.add(Measure.BAR)
        return frozenset(due)

    def _done_today(self) -> dict[Measure, bool]:
        return {
            Measure.CHECK_IN: any(one.day == self.day for own in self._check_ins.values() for one in own),
            Measure.JUMP: any(own[-1].day == self.day for own in self._jumps.values()),
            Measure.BAR: any(bar.day == self.day for bar in self._bars.values()),
        }

    def _bar(self, athlete_id: str) -> Reading | None:
        bar = self._bars.get(athlete_id)
        if bar is None:
            return None
        usual = bar.usual
        words = f"{bar.mean_velocity_m_s:.2f} m/s at {bar.load_kg:g} kg{_range(usual, 1.0, 2)}"
        z = usual.z(bar.mean_velocity_m_s) if usual.enough else None
        return _reading(Measure.BAR, bar.day, bar.mean_velocity_m_s, usual, bar.chance_below, z, words)

    def _jump(self, athlete_id: str) -> Reading | None:
        own = self._jumps.get(athlete_id)
        if not own:
            return None
        place = place_jump(own[-1], own[:-1], self._jump_sd)
        usual, mean = place.usual, own[-1].mean_m
        words = f"{CM * mean:.1f} cm{_range(usual, CM, 1)}, {own[-1].after.in_words()}"
        z = usual.z(mean) if usual is not None and usual.enough else None
        return _reading(Measure.JUMP, own[-1].day, mean, usual, place.chance_below, z, words)

    def _check_in(self, own: Sequence[CheckIn]) -> Reading | None:
        answered = [one for one in own if one.kind is CheckInKind.ANSWERED and one.total is not None]
        if not answered:
            return None
        place = place_check_in(answered[-1], answered[:-1], self._sum_sd)
        if place is None:
            return None
        words = f"{place.total} of 25{_range(place.usual, 1.0, 0)}{low_items(place)}"
        known = place.usual is not None and place.usual.enough
        z = place.usual.z(place.total) if place.usual is not None and known else None
        return _reading(
            Measure.CHECK_IN, answered[-1].day, place.total, place.usual, place.chance_below, z, words
        )


def low_items(place: SumPlace) -> str:
    """The items that are low for this athlete, as what they are: a rank among the own answers."""
    low = sorted((i.z, n, i) for n, i in enumerate(place.items) if i.z is not None and i.z <= LOW_ITEM_Z)
    return "".join(
        f"; {i.item} {i.answer}, so low on {i.as_low} of {i.of} days" for _, _, i in low[:ITEMS_NAMED]
    )


def _reading(
    measure: Measure,
    day: date,
    value: float,
    usual: OwnUsual | None,
    chance_below: float | None,
    z: float | None,
    words: str,
) -> Reading:
    low, mid, high = (usual.low, usual.mean, usual.high) if usual is not None else (None, None, None)
    return Reading(measure, day, value, low, mid, high, chance_below, z, words)


def _range(usual: OwnUsual | None, unit: float, digits: int) -> str:
    if usual is None:
        return ", first time"
    if not usual.enough:
        return f", too little history ({usual.days})"
    return f", usually {unit * usual.low:.{digits}f} to {unit * usual.high:.{digits}f}"
