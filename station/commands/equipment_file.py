"""A rack's bars, plates, collars and sensor, as weighed, from CSV. Bad rows are named by line and left out."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from station.commands.squad_file import SquadFileError
from station.readiness.plates import KG_PER_LB
from station.store.rack_things import KINDS, PLATE, Thing

COLUMNS = ("kind", "label", "weighed_kg")
FURTHEST_OFF = 0.25  # a plate that weighs a quarter more than is written on it is a typing error
MOST_PAIRS = 20


@dataclass(frozen=True, slots=True)
class EquipmentFile:
    """The good rows, and a sentence for each bad one."""

    things: tuple[Thing, ...]
    complaints: tuple[str, ...]


def read_equipment(path: Path) -> EquipmentFile:
    """Read a file of bars and plates.

    Raises:
        SquadFileError: it cannot be read, or a required column is missing.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            missing = [c for c in COLUMNS if c not in (reader.fieldnames or [])]
            if missing:
                raise SquadFileError(f"{path}, line 1: the column {', '.join(missing)} is missing")
            rows = [(reader.line_num, row) for row in reader]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise SquadFileError(f"{path}: cannot be read ({error})") from error
    things: list[Thing] = []
    complaints: list[str] = []
    for line, row in rows:
        try:
            things.append(_thing(row))
        except ValueError as error:
            complaints.append(f"{path}, line {line}: {error}; left out")
    return EquipmentFile(tuple(things), tuple(complaints))


def listed(things: Sequence[Thing]) -> list[str]:
    """A line a thing, for reading: what is written on it, what it weighs, how far that is off."""
    if not things:
        return ["Nothing is written down for this rack: common plates as cast, a bar of 20 kg."]
    return [_line(thing) for thing in things]


def _line(thing: Thing) -> str:
    weighs = f"{thing.kind}, {thing.label}: weighs {thing.weighed_kg:g} kg"
    if thing.kind != PLATE:
        return weighs
    cast = float(thing.label) * (KG_PER_LB if thing.unit == "lb" else 1.0)
    pairs = "1 pair" if thing.pairs == 1 else f"{thing.pairs} pairs"
    off = f"{100 * (thing.weighed_kg / cast - 1):+.1f} %"
    return f"{thing.kind}, {thing.label} {thing.unit}: weighs {thing.weighed_kg:g} kg ({off}), {pairs}"


def _thing(row: dict[str, str | None]) -> Thing:
    kind, label = _text(row, "kind").lower(), _text(row, "label")
    if kind not in KINDS:
        raise ValueError(f"kind {kind!r} is neither bar nor plate, nor collars, nor sensor")
    unit = (row.get("unit") or "").strip() or "kg"
    if unit not in ("kg", "lb"):
        raise ValueError(f"unit {unit!r} is neither kg nor lb")
    weighed = _mass(row, "weighed_kg")
    if kind != PLATE:
        return Thing(kind, label, unit, weighed)
    written = _mass(row, "label") * (KG_PER_LB if unit == "lb" else 1.0)
    if abs(weighed - written) > FURTHEST_OFF * written:
        raise ValueError(f"a plate of {label} {unit} does not weigh {weighed:g} kg")
    return Thing(PLATE, f"{_mass(row, 'label'):g}", unit, weighed, _pairs(row))


def _pairs(row: dict[str, str | None]) -> int:
    text = (row.get("pairs") or "").strip() or "1"
    if not (text.isascii() and text.isdigit() and int(text) <= MOST_PAIRS):
        raise ValueError(f"pairs {text!r} is not a number from 0 to {MOST_PAIRS}")
    return int(text)


def _mass(row: dict[str, str | None], column: str) -> float:
    text = _text(row, column)
    try:
        mass = float(text)
    except ValueError:
        raise ValueError(f"{column} {text!r} is not a mass") from None
    if not (isfinite(mass) and 0 < mass < 200):
        raise ValueError(f"{column} {text} is not a mass")
    return mass


def _text(row: dict[str, str | None], column: str) -> str:
    text = (row.get(column) or "").strip()
    if not text:
        raise ValueError(f"{column} is empty")
    return text
