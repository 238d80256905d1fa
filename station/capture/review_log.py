"""The session log as the review desk shows it: what is asked for in words, and its lines with names and marks."""

from __future__ import annotations

import calendar
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy import Connection

from station.capture.rack_view import Unit
from station.readiness.plates import KG_PER_LB
from station.squad.athletes import Athlete
from station.squad.lifts import LIFTS
from station.store import roster, staff_list
from station.store.effective import MEASURED_AGAIN
from station.store.log_filter import LogFilter, Word
from station.store.record import Record
from station.store.session_log import (
    LogIndex,
    LogRow,
    known_lifts,
    known_racks,
    log_index,
    log_page,
    log_rows,
)

NOBODY_NAMED = "nobody named"
SQUAD = ("athletes", "roster_changes", "training_statuses")
_CORRECTED_WORDS = {
    "athlete_id": "moved",
    "lift": "lift corrected",
    "load_kg": "load corrected",
    "bar_kg": "bar corrected",
    "full_effort": "effort marked",
    MEASURED_AGAIN: "measured again",
}


@dataclass(frozen=True, slots=True)
class LogAsked:
    """What the desk asks the log for.

    Attributes:
        days_back: today and so many days before; None: all.
        athlete_id: "" for sets that nobody has named; None: everybody.
        search: words that must all be found: name, shirt number, lift, rack, load, day (2026-10 or 2026-10-14),
            or in a comment.
        unit: of a load in it.
    """

    days_back: int | None = None
    athlete_id: str | None = None
    lift: str | None = None
    rack: str | None = None
    search: str = ""
    unit: Unit = "kg"


@dataclass(frozen=True, slots=True)
class LogChoices:
    """What the log can be asked for, and who may sign in: athletes by name (id, name), lifts, racks, staff."""

    athletes: tuple[tuple[str, str], ...] = ()
    lifts: tuple[str, ...] = ()
    racks: tuple[str, ...] = ()
    staff: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LogLine:
    """One set.

    Attributes:
        at: local date and time at which it began.
        athlete_id, athlete: None and words where nobody is named.
        reps: how many count; best_m_s: the fastest of them, None without any.
        loss: from the fastest to the last, as a share.
        marks: in words what a reader should look at.
    """

    set_id: str
    day: date
    at: datetime
    athlete_id: str | None
    athlete: str
    lift: str
    load_kg: float
    kind: str
    rack: str
    session: int
    reps: int
    best_m_s: float | None
    loss: float | None
    marks: tuple[str, ...]


class ReviewLog:
    """Reads the log of one record; in one thread of its desk.

    Args:
        today: the local day.
    """

    def __init__(self, record: Record, today: Callable[[], date]) -> None:
        self._record, self._today = record, today
        self._squad: tuple[object, dict[str, Athlete]] = ("", {})

    def choices(self) -> LogChoices:
        """What can be asked for as the record stands."""
        with self._record.database.read() as connection:
            squad = self._people(connection)
            return LogChoices(
                tuple(
                    sorted(((a.athlete_id, named(a)) for a in squad.values()), key=lambda one: fold(one[1]))
                ),
                tuple(sorted({*known_lifts(connection), *LIFTS})),
                tuple(known_racks(connection)),
                tuple(staff_list.staff_roles(connection)),
            )

    def index(self, asked: LogAsked) -> LogIndex:
        """The pages of what is asked for."""
        with self._record.database.read() as connection:
            return log_index(connection, self._filter(connection, asked))

    def page(self, index: LogIndex, number: int) -> tuple[LogLine, ...]:
        """The lines of one page."""
        with self._record.database.read() as connection:
            squad = self._people(connection)
            return tuple(log_line(row, squad) for row in log_page(connection, index, number))

    def lines(self, set_ids: tuple[str, ...]) -> tuple[LogLine, ...]:
        """These sets alone, as they stand now."""
        with self._record.database.read() as connection:
            squad = self._people(connection)
            return tuple(log_line(row, squad) for row in log_rows(connection, set_ids))

    def _people(self, connection: Connection) -> dict[str, Athlete]:
        """Read again only when the squad has changed, or on another day."""
        marks = (connection.exec_driver_sql(f"SELECT max(_rowid_), count(*) FROM {t}").one() for t in SQUAD)
        key = (self._today(), *(tuple(mark) for mark in marks))
        if key != self._squad[0]:
            self._squad = (key, people(connection, self._today()))
        return self._squad[1]

    def _filter(self, connection: Connection, asked: LogAsked) -> LogFilter:
        first = None if asked.days_back is None else self._today() - timedelta(days=asked.days_back)
        last: date | None = None
        squad = self._people(connection) if asked.search.strip() else {}
        racks = known_racks(connection) if asked.search.strip() else []
        lifts = {*known_lifts(connection), *LIFTS} if asked.search.strip() else set[str]()
        words = []
        for text in fold(asked.search).split():
            days = _days(text)
            if days is not None:
                first, last = max(first or days[0], days[0]), min(last or days[1], days[1])
                continue
            words.append(
                Word(
                    frozenset(a.athlete_id for a in squad.values() if _is_called(a, text)),
                    frozenset(lift for lift in lifts if text in fold(lift)),
                    frozenset(rack for rack in racks if text in fold(rack)),
                    _load(text, asked.unit),
                    text,
                )
            )
        return LogFilter(first, last, asked.athlete_id, asked.lift, asked.rack, tuple(words))


def people(connection: Connection, day: date) -> dict[str, Athlete]:
    """Everybody as called on a day, those who left too, by id."""
    return {line.athlete.athlete_id: line.athlete for line in roster.roster(connection, day)}


def named(athlete: Athlete) -> str:
    """Name with shirt number: two may have the same name."""
    return athlete.name if athlete.shirt_number is None else f"{athlete.name} ({athlete.shirt_number})"


def log_line(row: LogRow, squad: Mapping[str, Athlete]) -> LogLine:
    """A row of the log with its names and marks."""
    now, best = row.set, max(row.velocities_m_s, default=None)
    athlete = squad.get(now.athlete_id or "")
    loss = (best - row.velocities_m_s[-1]) / best if best and len(row.velocities_m_s) > 1 else None
    return LogLine(
        now.set_id,
        now.day,
        now.born_at.astimezone(),
        now.athlete_id,
        NOBODY_NAMED if athlete is None else named(athlete),
        now.lift,
        now.load_kg,
        now.kind,
        now.rack,
        now.session,
        len(row.velocities_m_s),
        best,
        loss,
        _marks(row),
    )


def _marks(row: LogRow) -> tuple[str, ...]:
    counted = (
        (row.struck, "struck"),
        (row.failed, "failed"),
        (row.unsure, "not sure"),
        (row.comments, "comment" if row.comments == 1 else "comments"),
    )
    words = [f"{n} {what}" for n, what in counted if n]
    if row.set.athlete_id is not None and not row.set.name_confirmed:
        words.append("name not confirmed")
    words += [_CORRECTED_WORDS[name] for name in row.corrected if name in _CORRECTED_WORDS]
    return (*words, *row.flags)


def fold(text: str) -> str:
    """For comparing what people type: without accents and capitals."""
    plain = unicodedata.normalize("NFKD", text)
    return "".join(c for c in plain if not unicodedata.combining(c)).casefold()


def _is_called(athlete: Athlete, text: str) -> bool:
    return text in fold(athlete.name) or text == str(athlete.shirt_number)


def _load(text: str, unit: Unit) -> tuple[float, float] | None:
    """Loads that are written so, kg: to the last digit that is typed."""
    try:
        typed = float(text.replace(",", "."))
    except ValueError:
        return None
    if not 0.0 < typed < 2000.0:
        return None
    per_unit, half = (KG_PER_LB if unit == "lb" else 1.0), 0.05
    return (typed - half) * per_unit, (typed + half) * per_unit


def _days(text: str) -> tuple[date, date] | None:
    """The days that 2026-10-14 or 2026-10 means."""
    parts = text.split("-")
    if len(parts) not in (2, 3) or not all(part.isdecimal() for part in parts):
        return None
    try:
        year, month = int(parts[0]), int(parts[1])
        if len(parts) == 3:
            return (date(year, month, int(parts[2])),) * 2
        return date(year, month, 1), date(year, month, calendar.monthrange(year, month)[1])
    except ValueError:
        return None
