"""An older history as a CSV file from elsewhere: which column is what, in which units, and what would come of it.

Nothing is guessed that could be wrong in silence: a unit that no head of a column states is asked for, and so is the
order of day and month.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from typing import Literal

from station.squad.table_text import LineError, Row, TableError, number_of

Column = Literal[
    "athlete", "day", "time", "lift", "load", "velocity", "peak velocity", "displacement", "set", "rep"
]
COLUMNS: tuple[Column, ...] = (
    *("athlete", "day", "time", "lift", "load", "velocity", "peak velocity", "displacement", "set", "rep"),
)
NEEDED: tuple[Column, ...] = ("athlete", "day", "load", "velocity")
LOAD_UNITS = {"kg": 1.0, "lb": 0.45359237}
VELOCITY_UNITS = {"m/s": 1.0, "cm/s": 0.01, "mm/s": 0.001, "ft/s": 0.3048}
LENGTH_UNITS = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254}
DAY_ORDERS = {"year month day": "%Y-%m-%d", "day month year": "%d-%m-%Y", "month day year": "%m-%d-%Y"}
LOAD_KG, VELOCITY_M_S, LENGTH_M = (1.0, 500.0), (0.03, 4.0), (0.02, 2.0)

# Words that heads of columns commonly hold, the more exact ones first.
_HEADS: dict[Column, tuple[str, ...]] = {
    "athlete": ("athlete name", "athlete", "player", "lifter", "name"),
    "day": ("day", "date"),
    "time": ("time of day", "clock", "time"),
    "lift": ("lift", "exercise", "movement"),
    "load": ("load", "weight", "mass"),
    "peak velocity": ("peak velocity", "peak speed", "max velocity"),
    "velocity": (
        "mean concentric velocity",
        "mean velocity",
        "average velocity",
        "mean speed",
        "velocity",
        "speed",
    ),
    "displacement": ("range of motion", "displacement", "distance", "rom"),
    "set": ("set number", "set"),
    "rep": ("rep number", "repetition", "rep", "number"),
}
_ASSIGN_FIRST: tuple[Column, ...] = ("peak velocity",)


@dataclass(frozen=True, slots=True)
class Source:
    """How a file is read.

    Attributes:
        columns: the head of the column that holds each.
        load_unit, velocity_unit, length_unit: keys of `LOAD_UNITS`, ...; "": not said yet.
        day_order: a key of `DAY_ORDERS`; "": not said yet.
        lift: of all lines, where no column says it.
        lifts: what the file calls a lift, in small letters, and which lift that is.
    """

    columns: Mapping[Column, str] = field(default_factory=dict)
    load_unit: str = ""
    velocity_unit: str = ""
    length_unit: str = ""
    day_order: str = ""
    lift: str = ""
    lifts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class HistoryFile:
    """A file as it was read: heads and lines."""

    heads: tuple[str, ...]
    rows: tuple[Row, ...]


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


def read_history(text: str) -> HistoryFile:
    """Heads and lines of a CSV file; tabs, semicolons or commas separate, whichever the first line has.

    Raises:
        TableError: there is nothing in it, or two columns bear one head.
    """
    text = text.removeprefix("\ufeff")
    first = next((line for line in text.splitlines() if line.strip()), "")
    if not first:
        raise TableError("the file is empty")
    separator = next((mark for mark in ("\t", ";", ",") if mark in first), ",")
    lines = csv.reader(io.StringIO(text), delimiter=separator)
    heads: tuple[str, ...] = ()
    rows = []
    try:
        for cells in lines:
            if not any(cell.strip() for cell in cells):
                continue
            if not heads:
                heads = tuple(cell.strip() for cell in cells)
                continue
            rows.append(Row(lines.line_num, dict(zip(heads, (cell.strip() for cell in cells), strict=False))))
    except csv.Error as error:
        raise TableError(f"line {lines.line_num} is not CSV ({error})") from error
    twice = {head for head in heads if head and heads.count(head) > 1}
    if twice:
        raise TableError(f"two columns are called {', '.join(sorted(twice))}; give each a name of its own")
    if not rows:
        raise TableError("the file has heads of columns and no line below them")
    return HistoryFile(heads, tuple(rows))


def guessed(file: HistoryFile) -> Source:
    """Columns by their heads, units where a head states one, the order of days where they leave no doubt."""
    free = [head for head in file.heads if head]
    columns: dict[Column, str] = {}
    for column in (*_ASSIGN_FIRST, *(c for c in COLUMNS if c not in _ASSIGN_FIRST)):
        found = _head_for(column, free)
        if found is not None:
            columns[column] = found
            free.remove(found)
    return Source(
        columns,
        _unit_in(columns.get("load", ""), LOAD_UNITS),
        _unit_in(columns.get("velocity", ""), VELOCITY_UNITS),
        _unit_in(columns.get("displacement", ""), LENGTH_UNITS),
        _order_of(file.rows, columns.get("day", "")),
    )


def _head_for(column: Column, heads: Sequence[str]) -> str | None:
    for words in _HEADS[column]:
        for head in heads:
            if re.search(rf"\b{words}\b", _plain(head)):
                return head
    return None


def _plain(head: str) -> str:
    return re.sub(r"[^a-z0-9]+", " ", head.lower()).strip()


def _unit_in(head: str, units: Mapping[str, float]) -> str:
    """The unit a head ends with, as `load_kg`, `Load (lb)` or `velocity [m/s]`; "" where it states none."""
    end = " " + _plain(head)
    fits = [unit for unit in units if end.endswith(f" {_plain(unit)}")]
    fits += [unit for unit in units if unit == "lb" and end.endswith((" lbs", " pounds"))]
    return max(fits, key=len, default="")


def _order_of(rows: Sequence[Row], column: str) -> str:
    days = [row[column] for row in rows] if column else []
    fits = [
        order for order in DAY_ORDERS if days and all(_day(text, order) is not None for text in days if text)
    ]
    return fits[0] if len(fits) == 1 else ""


def _day(text: str, order: str) -> date | None:
    parts = re.split(r"[-./ ]+", text.partition("T")[0].strip())
    try:
        return datetime.strptime("-".join(parts[:3]), DAY_ORDERS[order]).date()  # noqa: DTZ007 - a day
    except ValueError:
        return None


def questions(file: HistoryFile, source: Source) -> tuple[str, ...]:
    """What has to be said before anything can be read, each as a question."""
    asked = [f"Which column is the {c}?" for c in NEEDED if source.columns.get(c, "") not in file.heads]
    if "lift" not in source.columns and not source.lift:
        asked.append("Which column is the lift, or which lift are all lines of?")
    for column, unit, units in (
        ("load", source.load_unit, LOAD_UNITS),
        ("velocity", source.velocity_unit, VELOCITY_UNITS),
        ("displacement", source.length_unit, LENGTH_UNITS),
    ):
        if column in source.columns and not unit:
            asked.append(f"In which unit is the {column}: {', '.join(units)}?")
    if "day" in source.columns and not source.day_order:
        asked.append(f"In which order is a day written: {', '.join(DAY_ORDERS)}?")
    return tuple(asked)


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
        day = _day(text, self._source.day_order)
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
