"""Reading what `compare` is given: our repetitions (JSON lines) and a reference device's table (CSV)."""

from __future__ import annotations

import csv
import json
from collections import defaultdict
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

import numpy as np

FASTEST_M_S = 5.0
LATEST_OFF_S = 0.5
REQUIRED = "mean_velocity_m_s"


class CompareFileError(Exception):
    """A file cannot be compared; the text names file, line and what is wrong."""


@dataclass(frozen=True, slots=True)
class OneRep:
    """A repetition of either device.

    Attributes:
        file: the recording or set it belongs to; empty: there is one only.
        number: within it, from 1; None: not stated.
        time_s: in the middle of the repetition, on its device's own clock; None: not stated.
        velocity_m_s: mean concentric velocity.
        subject: athlete, lift and load, for repeated days; empty: not stated.
        day: as written; empty: not stated.
    """

    file: str
    number: int | None
    time_s: float | None
    velocity_m_s: float
    subject: tuple[str, str, str] = ("", "", "")
    day: str = ""


def read_ours(path: Path) -> list[OneRep]:
    """Repetitions as `replay --format jsonl` writes them; other events are passed over.

    Raises:
        CompareFileError: it cannot be read, or a line is no event.
    """
    found = []
    for number, text in enumerate(_text(path).splitlines(), start=1):
        if not text.strip():
            continue
        try:
            row = json.loads(text)
            if row["event"] != "rep" or row.get("mean_velocity_m_s") is None:
                continue
            middle = 0.5 * (float(row["start_time_s"]) + float(row["end_time_s"]))
            file = Path(str(row.get("file", ""))).stem
            velocity = float(row["mean_velocity_m_s"])
            found.append(
                OneRep(file, int(row["number"]), middle, velocity, _subject(row), str(row.get("day", "")))
            )
        except (ValueError, KeyError, TypeError) as error:
            raise CompareFileError(
                f"{path}, line {number}: this is no event of 'replay' ({error})."
            ) from error
    return found


def read_reference(path: Path) -> list[OneRep]:
    """The reference's table: `mean_velocity_m_s`, and `number` or `time_s`; optional `file`, `day`, `athlete_id`,
    `lift`, `load_kg`.

    Raises:
        CompareFileError: it cannot be read, or a line is wrong.
    """
    rows = csv.DictReader(_text(path).splitlines())
    heads = rows.fieldnames or []
    if REQUIRED not in heads or not {"number", "time_s"} & set(heads):
        raise CompareFileError(f"{path}, line 1: the columns {REQUIRED} and number or time_s are needed.")
    return [_reference_row(path, line, row) for line, row in enumerate(rows, start=2)]


def _reference_row(path: Path, line: int, row: dict[str, str | None]) -> OneRep:
    try:
        velocity = float(row[REQUIRED] or "")
        number = int(row["number"] or "") if row.get("number") else None
        time_s = float(row["time_s"] or "") if row.get("time_s") else None
    except ValueError as error:
        raise CompareFileError(f"{path}, line {line}: {error}.") from error
    if not (isfinite(velocity) and 0 < velocity < FASTEST_M_S) or (number is None and time_s is None):
        raise CompareFileError(f"{path}, line {line}: a velocity in m/s and a number or time are needed.")
    file = Path(row.get("file") or "").stem
    return OneRep(file, number, time_s, velocity, _subject(row), row.get("day") or "")


def matched(ours: list[OneRep], reference: list[OneRep]) -> tuple[list[tuple[OneRep, OneRep]], int, int]:
    """Pairs of the same repetition, and how many of either device found none.

    Within a file by number; where the reference states times instead, by time, after the shift of its clock that
    brings most repetitions together.
    """
    by_file: dict[str, tuple[list[OneRep], list[OneRep]]] = defaultdict(lambda: ([], []))
    one_file = len({rep.file for rep in ours}) == 1 and {rep.file for rep in reference} == {""}
    for which, reps in enumerate((ours, reference)):
        for rep in reps:
            by_file["" if one_file else rep.file][which].append(rep)
    pairs = [pair for mine, theirs in by_file.values() for pair in _pairs(mine, theirs)]
    return pairs, len(ours) - len(pairs), len(reference) - len(pairs)


def _pairs(ours: list[OneRep], reference: list[OneRep]) -> list[tuple[OneRep, OneRep]]:
    if reference and all(rep.number is not None for rep in reference):
        mine, theirs = _by_set_and_number(ours), _by_set_and_number(reference)
        if not any(
            set_number for set_number, _ in theirs
        ):  # it counts on through all sets, or has seen one only
            mine = {(0, count): rep for count, rep in enumerate(ours, start=1)}
        return [(mine[key], rep) for key, rep in theirs.items() if key in mine]
    shifts = [
        a.time_s - b.time_s for a in ours for b in reference if a.time_s is not None and b.time_s is not None
    ]
    return max((_at_shift(ours, reference, shift) for shift in _likely(shifts)), key=_closeness, default=[])


def _by_set_and_number(reps: list[OneRep]) -> dict[tuple[int, int], OneRep]:
    """Repetitions by set and number: where numbers do not grow, another set of the same recording begins."""
    found: dict[tuple[int, int], OneRep] = {}
    set_number, last = 0, 0
    for rep in reps:
        number = rep.number or 0
        set_number += number <= last
        last = number
        found[set_number, number] = rep
    return found


def _sets(numbered: dict[tuple[int, int], OneRep]) -> int:
    return len({set_number for set_number, _ in numbered})


def _likely(shifts_s: list[float]) -> list[float]:
    """Of all shifts of the clock those that many pairs share, a tenth of a second apart: trying each takes hours."""
    ordered = np.sort(shifts_s)
    shared = np.searchsorted(ordered, ordered + LATEST_OFF_S) - np.searchsorted(
        ordered, ordered - LATEST_OFF_S
    )
    likely: list[float] = []
    for shift in ordered[shared >= 0.8 * shared.max(initial=0)].tolist():
        if not likely or shift - likely[-1] > 0.1:
            likely.append(shift)
    return likely


def _closeness(pairs: list[tuple[OneRep, OneRep]]) -> tuple[int, float]:
    """More pairs are better; of as many, those whose speeds are alike."""
    return len(pairs), -sum(abs(a.velocity_m_s - b.velocity_m_s) for a, b in pairs)


def _at_shift(ours: list[OneRep], reference: list[OneRep], shift_s: float) -> list[tuple[OneRep, OneRep]]:
    pairs, free = [], list(ours)
    for rep in reference:
        at = (rep.time_s or 0.0) + shift_s
        near = min(free, key=lambda one: abs((one.time_s or 0.0) - at), default=None)
        if near is not None and abs((near.time_s or 0.0) - at) <= LATEST_OFF_S:
            free.remove(near)
            pairs.append((near, rep))
    return pairs


def _subject(row: dict[str, object] | dict[str, str | None]) -> tuple[str, str, str]:
    athlete, lift, load = (str(row.get(key) or "") for key in ("athlete_id", "lift", "load_kg"))
    return athlete, lift, load


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise CompareFileError(f"{path} cannot be read: {error}.") from error
