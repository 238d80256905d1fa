"""Raw samples of sets and jumps: read back only when they are what was written; kept two seasons; their room."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from drivers.recording import RecordingError, read_recording
from drivers.samples import SampleBlock
from station.store.backup import checksum
from station.store.database import FILE_NAME
from station.store.errors import RawDamaged

FOLDER = "raw"
# Long enough to measure a whole season again with a better engine, and to set it beside the one before.
KEPT_FOR = timedelta(days=2 * 365)


@dataclass(frozen=True, slots=True)
class RawSpace:
    """What the raw samples of one record take: files, bytes, and the days of the oldest and newest."""

    files: int
    size_bytes: int
    oldest: date | None
    newest: date | None


def read_raw(folder: Path, file: str, sha256: str) -> SampleBlock:
    """The raw samples of a set or jump, as the sensor sent them.

    Args:
        folder: the record's.
        file, sha256: as the record has them.

    Raises:
        RawDamaged: the file is missing or is not what was written.
    """
    path = folder / FOLDER / file
    if not path.exists():
        raise RawDamaged(path, "it is missing")
    if checksum(path) != sha256:
        raise RawDamaged(path, "its checksum is not the one that was written down")
    try:
        return read_recording(path)
    except RecordingError as error:
        raise RawDamaged(path, str(error)) from error


def raw_space(folder: Path) -> RawSpace:
    """How much room the raw samples of a record's folder take, from when to when they reach; also while it is used.

    Raises:
        sqlite3.Error: the record cannot be read.
    """
    files = list((folder / FOLDER).glob("*.parquet"))
    there = {file.name for file in files}
    days = sorted(day for name, day in _days(folder) if name in there)
    ends = (date.fromisoformat(days[0]), date.fromisoformat(days[-1])) if days else (None, None)
    return RawSpace(len(files), sum(file.stat().st_size for file in files), *ends)


def forget_old_raw(folder: Path, today: date, kept_for: timedelta = KEPT_FOR) -> list[str]:
    """Delete raw files older than that; their names. Sets, reps, jumps and the files' names stay in the record.

    Raises:
        sqlite3.Error: the record cannot be read.
    """
    old = [name for name, day in _days(folder) if day < (today - kept_for).isoformat()]
    gone = [name for name in old if (folder / FOLDER / name).exists()]
    for name in gone:
        (folder / FOLDER / name).unlink()
    return gone


def _days(folder: Path) -> list[tuple[str, str]]:
    query = (
        "SELECT raw_files.file, sets.day FROM raw_files JOIN sets ON sets.id = raw_files.set_id "
        "UNION ALL SELECT raw_file, day FROM jumps WHERE raw_file IS NOT NULL"
    )
    with closing(sqlite3.connect(f"{(folder / FILE_NAME).as_uri()}?mode=ro", uri=True)) as connection:
        return connection.execute(query).fetchall()
