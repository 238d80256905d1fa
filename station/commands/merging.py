"""What `share merge` does: a copy of the other record, brought to today's version, then taken over row by row."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from station.commands.rack_command import utc_now
from station.store.backup import MANIFEST, RAW_CHECKSUMS, checksum, read_manifest
from station.store.database import FILE_NAME
from station.store.errors import NotADatabase
from station.store.nearby import DESK_TABLES, take_from
from station.store.record import Record

# On another machine anybody may have been the first to choose a PIN under any name: no PIN comes from there.
WITH_RAW = (*(name for name in DESK_TABLES if name != "staff_pins"), "raw_files")


@dataclass(frozen=True, slots=True)
class Merged:
    """What came in: rows, raw files, and raw files that are not what was written."""

    rows: int
    raw_files: int
    damaged: tuple[str, ...]


def merge_file(file: Path, folder: Path, name: str) -> Merged:
    """Take a record into another; the file itself is only read.

    Args:
        file: the record's file, its folder, or a backup's folder or manifest.
        folder, name: of the record that takes it in.

    Raises:
        StoreError: with what to do; nothing was taken.
    """
    source, raw = _parts(file)
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / "copy"
        copy.mkdir()
        for part in (FILE_NAME, f"{FILE_NAME}-wal"):
            if (source.parent / part).exists():
                shutil.copy2(source.parent / part, copy / part)
        with closing(Record(copy, "copy", utc_now)):
            pass  # of an earlier version it becomes today's; a newer one is refused
        with closing(Record(folder, name, utc_now)) as record:
            try:
                rows = take_from(record, copy / FILE_NAME, WITH_RAW)
            except sqlite3.Error as error:
                raise NotADatabase(source, str(error)) from error
            return Merged(rows, *_bring_raw(record, raw))


def _parts(file: Path) -> tuple[Path, Path]:
    """The record's file, and the folder of its raw samples."""
    if file.name == MANIFEST or (file / MANIFEST).exists():
        backup = file if file.is_dir() else file.parent
        read_manifest(backup)
        return backup / FILE_NAME, backup.parent / "raw"
    source = file / FILE_NAME if file.is_dir() else file
    if source.name != FILE_NAME or not source.exists():
        raise NotADatabase(file, f"name a file {FILE_NAME} or the folder that holds it")
    return source, source.parent / "raw"


def _bring_raw(record: Record, source: Path) -> tuple[int, tuple[str, ...]]:
    with record.database.read() as connection:
        known = connection.exec_driver_sql(RAW_CHECKSUMS).all()
    target = record.database.folder / "raw"
    target.mkdir(exist_ok=True)
    brought, damaged = 0, []
    for name, wanted in known:
        if (target / name).exists() or not (source / name).exists():
            continue
        if checksum(source / name) != wanted:
            damaged.append(str(name))
            continue
        shutil.copy2(source / name, target / name)
        brought += 1
    return brought, tuple(damaged)
