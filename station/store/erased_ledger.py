"""The ledger of erasures: a small file beside the records of a machine, and beside every backup.

One line an erasure, a UUID of its own, the athlete's UUID, and the date: enough to erase them again from whatever
comes back, and nothing of who they were.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from station.store.errors import FolderNotWritable

FILE_NAME = "erased.csv"


@dataclass(frozen=True, slots=True)
class Erasure:
    """One erasure: its own id, whom it concerns, when."""

    id: str
    athlete_id: str
    day: date


def read_ledger(folder: Path) -> list[Erasure]:
    """The erasures written down in a folder, oldest first; a line cut off by a power cut is left out."""
    file = folder / FILE_NAME
    if not file.exists():
        return []
    with file.open(newline="", encoding="utf-8") as lines:
        rows = [row for row in csv.reader(lines) if len(row) == 3 and len(row[2]) == len("2026-10-14")]
    return [Erasure(row[0], row[1], date.fromisoformat(row[2])) for row in rows]


def write_ledger(folder: Path, new: Iterable[Erasure]) -> None:
    """Add erasures that are not written down there yet, on the disk when this returns.

    Raises:
        FolderNotWritable: with what to do.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        known = {one.athlete_id for one in read_ledger(folder)}
        with (folder / FILE_NAME).open("a", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(
                (one.id, one.athlete_id, one.day.isoformat()) for one in new if one.athlete_id not in known
            )
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise FolderNotWritable(folder, error.strerror or str(error)) from error
