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
OPTIONAL = ("shirt_number", "lift", "warmup_load_kg", "planned_load_kg", "ceiling_kg")


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
    return SquadRow(athlete, lift_named(lift).name if lift else None, loads[0], loads[1], loads[2])


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
