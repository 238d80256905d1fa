"""How a CSV file from elsewhere is to be read: which column is what, in which units, in which order a day.

Nothing is guessed that could be wrong in silence: a unit that no head of a column states is asked for, and so is the
order of day and month.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

from station.squad.table_text import Row, TableError

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
        order
        for order in DAY_ORDERS
        if days and all(day_of(text, order) is not None for text in days if text)
    ]
    return fits[0] if len(fits) == 1 else ""


def day_of(text: str, order: str) -> date | None:
    """The day that a text gives in this order; None where it is none."""
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
