"""What an older history from elsewhere would come to: the sets that its lines make, and what is wrong with which."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, time

from station.squad.history_source import (
    LENGTH_UNITS,
    LOAD_UNITS,
    VELOCITY_UNITS,
    Column,
    HistoryFile,
    Source,
    day_of,
)
from station.squad.table_text import LineError, Row, number_of

LOAD_KG, VELOCITY_M_S, LENGTH_M = (1.0, 500.0), (0.03, 4.0), (0.02, 2.0)


@dataclass(frozen=True, slots=True)
class HistoryRep:
    """One repetition, SI units; None where the file does not say."""

    number: int
    mean_velocity_m_s: float
    peak_velocity_m_s: float | None = None
    displacement_m: float | None = None


@dataclass(frozen=True, slots=True)
class HistorySet:
    """One set of the older history. `at` is None where the file tells no time of day."""

    athlete_id: str
    athlete: str
    day: date
    at: time | None
    lift: str
    load_kg: float
    reps: tuple[HistoryRep, ...]
    line: int


@dataclass(frozen=True, slots=True)
class HistoryPreview:
    """What would be written, what is wrong line by line, and what the file calls lifts that nobody knows."""

    sets: tuple[HistorySet, ...] = ()
    errors: tuple[LineError, ...] = ()
    unknown_lifts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Known:
    """What the lines are held to.

    Attributes:
        athletes: names in small letters, and the ids of everybody who bears it.
        lifts: names of lifts.
        today: nothing of today or later is an older history.
    """

    athletes: Mapping[str, Sequence[str]]
    lifts: Sequence[str]
    today: date


def preview_history(file: HistoryFile, source: Source, known: Known) -> HistoryPreview:
    """The sets that the lines make; a line that is wrong is named and left out. Questions must be answered first."""
    reader = _Reader(source, known)
    read, errors = [], []
    for row in file.rows:
        try:
            read.append((row, *reader.line(row)))
        except ValueError as error:
            errors.append(LineError(row.line, str(error)))
    sets, twice = _in_sets(read, source)
    unknown = dict.fromkeys(reader.unknown_lifts)
    return HistoryPreview(tuple(sets), tuple(sorted([*errors, *twice], key=lambda e: e.line)), tuple(unknown))


class _Reader:
    """Reads lines; the set a line belongs to comes without reps."""

    def __init__(self, source: Source, known: Known) -> None:
        self._source, self._known = source, known
        self._lifts = {name.casefold(): name for name in known.lifts} | {
            word.casefold(): name for word, name in source.lifts.items()
        }
        self.unknown_lifts: list[str] = []

    def line(self, row: Row) -> tuple[HistorySet, HistoryRep]:
        """Raises ValueError with what is wrong."""
        source = self._source
        velocity = self._number(row, "velocity", VELOCITY_UNITS[source.velocity_unit], VELOCITY_M_S)
        load = self._number(row, "load", LOAD_UNITS[source.load_unit], LOAD_KG)
        if velocity is None or load is None:
            raise ValueError(f"the {'velocity' if velocity is None else 'load'} is empty")
        length = LENGTH_UNITS.get(source.length_unit, 1.0)
        rep = HistoryRep(
            self._rep(row),
            velocity,
            self._number(row, "peak velocity", VELOCITY_UNITS[source.velocity_unit], VELOCITY_M_S),
            self._number(row, "displacement", length, LENGTH_M),
        )
        name = self._cell(row, "athlete")
        day = self._day(row)
        own = HistorySet(self._athlete(name), name, day, self._time(row), self._lift(row), load, (), row.line)
        return own, rep

    def _cell(self, row: Row, column: Column) -> str:
        head = self._source.columns.get(column)
        return row[head] if head else ""

    def _number(self, row: Row, column: Column, factor: float, limits: tuple[float, float]) -> float | None:
        text = self._cell(row, column)
        low, high = (limit / factor for limit in limits)
        value = number_of(text, f"the {column}", low, high)
        return None if value is None else round(value * factor, 6)

    def _athlete(self, name: str) -> str:
        found = self._known.athletes.get(name.casefold(), ())
        if not name or not found:
            raise ValueError(
                f"nobody is called {name!r}; add them to the roster first" if name else "no athlete"
            )
        if len(found) > 1:
            raise ValueError(f"{len(found)} athletes are called {name}; write the id instead of the name")
        return found[0]

    def _day(self, row: Row) -> date:
        text = self._cell(row, "day")
        day = day_of(text, self._source.day_order)
        if day is None:
            raise ValueError(f"{text!r} is not a day written as {self._source.day_order}")
        if not date(1950, 1, 1) <= day < self._known.today:
            raise ValueError(f"{day} is not before today" if day.year > 1950 else f"{day} is too long ago")
        return day

    def _time(self, row: Row) -> time | None:
        text = self._cell(row, "time") or (self._cell(row, "day").partition("T")[2])
        if not text:
            return None
        try:
            return time.fromisoformat(text.removesuffix("Z")).replace(tzinfo=None)
        except ValueError:
            raise ValueError(f"{text!r} is not a time of day such as 09:30") from None

    def _lift(self, row: Row) -> str:
        text = self._cell(row, "lift") or self._source.lift
        found = self._lifts.get(text.casefold())
        if found is None:
            self.unknown_lifts.append(text)
            raise ValueError(f"{text!r} is no lift that is known here; say which one it is")
        return found

    def _rep(self, row: Row) -> int:
        text = self._cell(row, "rep")
        number = number_of(text, "the rep", 1, 200)
        if number is not None and number != int(number):
            raise ValueError(f"the rep {text} is not a whole number")
        return int(number or 0)


def _in_sets(
    read: Sequence[tuple[Row, HistorySet, HistoryRep]], source: Source
) -> tuple[list[HistorySet], list[LineError]]:
    """Lines of one set together.

    The set's own column says it; without one, a rep's number that does not go up begins a set; with neither, each
    line is a set with its best rep.
    """
    set_head, counts = source.columns.get("set"), "rep" in source.columns
    found: dict[tuple[object, ...], tuple[HistorySet, list[HistoryRep]]] = {}
    nth: dict[tuple[object, ...], int] = {}
    errors = []
    for row, own, rep in read:
        base = (own.athlete_id, own.day, own.lift, own.load_kg, row[set_head] if set_head else "")
        last = found.get((*base, nth.get(base, 0)))
        if not set_head and (last is None or not counts or (rep.number and rep.number <= last[1][-1].number)):
            nth[base] = nth.get(base, 0) + 1
        _, reps = found.setdefault((*base, nth.get(base, 0)), (own, []))
        if rep.number and any(one.number == rep.number for one in reps):
            errors.append(LineError(row.line, f"rep {rep.number} of this set is in the file twice"))
            continue
        reps.append(replace(rep, number=rep.number or len(reps) + 1))
    return [replace(own, reps=tuple(reps)) for own, reps in found.values()], errors
