"""Reading a squad from CSV: who is in it, at which rack, and what is planned. Bad rows are named and left out."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from station.squad.athletes import Athlete
from station.squad.errors import UnknownLift
from station.squad.lifts import lift_named
from station.store.tables import new_id

REQUIRED = ("name", "rack")
SPEEDS = ("target_low_m_s", "target_high_m_s", "velocity_at_1rm_m_s")
OPTIONAL = ("shirt_number", "lift", "warmup_load_kg", "planned_load_kg", "ceiling_kg", *SPEEDS)
FASTEST_M_S = 5.0


class SquadFileError(Exception):
    """The file cannot be read as a squad."""


@dataclass(frozen=True, slots=True)
class SquadRow:
    """One athlete and, where a lift is given, the plan."""

    athlete: Athlete
    lift: str | None
    warmup_load_kg: float | None
    planned_load_kg: float | None
    ceiling_kg: float | None
    target_low_m_s: float | None = None
    target_high_m_s: float | None = None
    velocity_at_1rm_m_s: float | None = None

    @property
    def targets(self) -> dict[str, float | None]:
        """The target band and the own velocity at 1RM, by column."""
        return {name: getattr(self, name) for name in SPEEDS}


@dataclass(frozen=True, slots=True)
class SquadFile:
    """The good rows, and a sentence for each bad one."""

    rows: tuple[SquadRow, ...]
    complaints: tuple[str, ...]


def read_squad(path: Path) -> SquadFile:
    """Read a squad file.

    Raises:
        SquadFileError: it cannot be read, or a required column is missing.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            columns = reader.fieldnames or []
            missing = [c for c in REQUIRED if c not in columns]
            if missing:
                raise SquadFileError(f"{path}, line 1: the column {', '.join(missing)} is missing")
            lines = [(reader.line_num, row) for row in reader]
    except (OSError, UnicodeDecodeError) as error:
        raise SquadFileError(f"{path}: cannot be read ({error})") from error
    rows: list[SquadRow] = []
    complaints: list[str] = []
    for line, row in lines:
        try:
            rows.append(_row(row))
        except (ValueError, UnknownLift) as error:
            complaints.append(f"{path}, line {line}: {error}")
    return SquadFile(tuple(rows), tuple(complaints))


def _row(row: dict[str, str | None]) -> SquadRow:
    name = (row.get("name") or "").strip()
    if not name:
        raise ValueError("the name is empty")
    number = (row.get("shirt_number") or "").strip()
    if number and not number.isdigit():
        raise ValueError(f"shirt_number {number!r} is not a number")
    athlete = Athlete(new_id(), name, int(number) if number else None, (row.get("rack") or "").strip())
    lift = (row.get("lift") or "").strip()
    loads = [_load(row, column) for column in ("warmup_load_kg", "planned_load_kg", "ceiling_kg")]
    if lift and loads[0] is None:
        raise ValueError("a lift needs its fixed warmup_load_kg")
    speeds = [_speed(row, column) for column in SPEEDS]
    low, high = speeds[:2]
    if (low is None) != (high is None) or (low is not None and high is not None and low >= high):
        raise ValueError("a target band needs target_low_m_s below target_high_m_s")
    return SquadRow(athlete, lift_named(lift).name if lift else None, *loads, *speeds)


def _speed(row: dict[str, str | None], column: str) -> float | None:
    text = (row.get(column) or "").strip()
    if not text:
        return None
    try:
        speed = float(text)
    except ValueError:
        raise ValueError(f"{column} {text!r} is not a number") from None
    if not 0 < speed <= FASTEST_M_S:
        raise ValueError(f"{column} {text} is not a speed in m/s")
    return speed


def _load(row: dict[str, str | None], column: str) -> float | None:
    text = (row.get(column) or "").strip()
    if not text:
        return None
    try:
        load = float(text)
    except ValueError:
        raise ValueError(f"{column} {text!r} is not a number") from None
    if not 0 < load < 1000:
        raise ValueError(f"{column} {text} is not a load in kg")
    return load
