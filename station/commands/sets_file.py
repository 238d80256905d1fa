"""Reading sets and plans from CSV for `assess`. Bad rows are named by line and left out."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from math import isfinite
from pathlib import Path

from station.readiness.squad_day import DayPlan
from station.squad.lifts import lift_named
from station.squad.sets import SetObservation

SET_COLUMNS = ("athlete_id", "day", "lift", "load_kg", "mean_velocity_m_s")
PLAN_COLUMNS = ("athlete_id", "lift", "planned_load_kg", "ceiling_kg")
HEAVIEST_KG, FASTEST_M_S, LONGEST_M, MOST_SESSIONS = 1000.0, 5.0, 3.0, 20

Row = dict[str, str | None]


class SetsFileError(Exception):
    """A file cannot be read as sets or plans at all."""


@dataclass(frozen=True, slots=True)
class SetsFile:
    """The good rows, and a sentence for each bad one."""

    sets: tuple[SetObservation, ...]
    complaints: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlanFile:
    """Plans by athlete and lift, and a sentence for each bad row."""

    plans: dict[tuple[str, str], DayPlan]
    complaints: tuple[str, ...]


def read_sets(path: Path) -> SetsFile:
    """Read a file of sets in order of time.

    Raises:
        SetsFileError: it cannot be read, or a required column is missing.
    """
    sets: list[SetObservation] = []
    complaints: list[str] = []
    _each_row(path, SET_COLUMNS, lambda row: sets.append(_set(row)), complaints)
    # Files put together from several racks go by rack first; inside a session the order of rows is kept.
    sets.sort(key=lambda one: (one.day, one.session))
    return SetsFile(tuple(sets), tuple(complaints))


def read_plans(path: Path) -> PlanFile:
    """Read a file of plans.

    Raises:
        SetsFileError: it cannot be read, or a required column is missing.
    """
    plans: dict[tuple[str, str], DayPlan] = {}
    complaints: list[str] = []

    def take(row: Row) -> None:
        key = (_text(row, "athlete_id"), _lift(_text(row, "lift")))
        plan = DayPlan(
            _number(row, "planned_load_kg", HEAVIEST_KG, needed=False),
            _number(row, "ceiling_kg", HEAVIEST_KG, needed=False),
            _number(row, "warmup_load_kg", HEAVIEST_KG, needed=False),
            _number(row, "velocity_at_1rm_m_s", FASTEST_M_S, needed=False),
        )
        if key in plans:
            raise ValueError(f"a second plan for {key[0]}, {key[1]}")
        plans[key] = plan

    _each_row(path, PLAN_COLUMNS, take, complaints)
    return PlanFile(plans, tuple(complaints))


def _each_row(
    path: Path, needed: tuple[str, ...], take: Callable[[Row], None], complaints: list[str]
) -> None:
    try:
        for line, row in _rows(path, needed):
            try:
                take(row)
            except ValueError as error:
                complaints.append(f"{path}, line {line}: {error}; left out")
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise SetsFileError(f"{path}: cannot be read ({error})") from error


def _rows(path: Path, needed: tuple[str, ...]) -> Iterator[tuple[int, Row]]:
    """Rows with their line numbers.

    Raises:
        SetsFileError: a column is missing.
    """
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.DictReader(file)
        columns = [c.strip() for c in reader.fieldnames or []]
        reader.fieldnames = columns
        missing = [c for c in needed if c not in columns]
        if missing:
            raise SetsFileError(f"{path}, line 1: the column {', '.join(missing)} is missing")
        for row in reader:
            yield reader.line_num, row


def _set(row: Row) -> SetObservation:
    load = _number(row, "load_kg", HEAVIEST_KG)
    velocity = _number(row, "mean_velocity_m_s", FASTEST_M_S)
    assert load is not None
    assert velocity is not None
    return SetObservation(
        _text(row, "athlete_id"),
        _day(_text(row, "day")),
        _lift(_text(row, "lift")),
        load,
        velocity,
        _session(row),
        _number(row, "displacement_m", LONGEST_M, needed=False),
    )


def _text(row: Row, column: str) -> str:
    text = (row.get(column) or "").strip()
    if not text:
        raise ValueError(f"{column} is empty")
    return text


def _number(row: Row, column: str, most: float, *, needed: bool = True) -> float | None:
    text = (row.get(column) or "").strip()
    if not text and not needed:
        return None
    try:
        value = float(text)
    except ValueError:
        raise ValueError(f"{column} {text!r} is not a number") from None
    if not (isfinite(value) and 0.0 < value <= most):
        raise ValueError(f"{column} {text} is not between 0 and {most:g}")
    return value


def _session(row: Row) -> int:
    text = (row.get("session") or "").strip() or "1"
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= MOST_SESSIONS):
        raise ValueError(f"session {text!r} is not a number from 1 to {MOST_SESSIONS}")
    return int(text)


@lru_cache(maxsize=8192)
def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"day {text!r} is not a date like 2026-10-14") from None


@lru_cache(maxsize=1024)
def _lift(text: str) -> str:
    return lift_named(text).name
