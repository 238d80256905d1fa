"""Bringing a backup back: checked whole before anything is touched, and never over a newer record unasked."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from station.store.backup import Manifest, check_database, checksum, read_manifest
from station.store.database import FILE_NAME, own_folder
from station.store.erased_ledger import Erasure, read_ledger, write_ledger
from station.store.errors import BackupDamaged, RecordIsNewer
from station.store.journal import JOURNAL_SUFFIX


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did.

    Attributes:
        folder: the record's.
        made_at: when the backup was made, UTC.
        raw_files: raw files brought back (those that were there already are not counted).
        missing: raw files that neither backup nor folder holds whole.
        put_aside: where the record lies that was there before; None where there was none.
    """

    folder: Path
    made_at: datetime
    raw_files: int
    missing: tuple[str, ...]
    put_aside: Path | None


def check_backup(file: Path) -> tuple[Manifest, tuple[str, ...]]:
    """Check a backup whole: checksums of everything, and the record as a database.

    Returns:
        Its manifest, and the raw files that are missing or damaged beside it.

    Raises:
        BackupDamaged: the record in it cannot be trusted.
    """
    folder = file if file.is_dir() else file.parent
    manifest = read_manifest(file)
    for name, wanted in manifest.files.items():
        part = folder / name
        if not part.exists() or checksum(part) != wanted:
            raise BackupDamaged(part, "it is missing or not what was written")
    check_database(folder / FILE_NAME)
    raw = folder.parent / "raw"
    bad = [n for n, wanted in manifest.raw.items() if not (raw / n).exists() or checksum(raw / n) != wanted]
    return manifest, tuple(sorted([*bad, *manifest.damaged]))


def restore(file: Path, record_folder: Path, now: datetime, *, replace_newer: bool = False) -> Restored:
    """Put a backup in the place of a record; what was there is put aside, not deleted.

    Erasures are applied when the record is opened next, before anything else: those of the machine's ledger, of the
    record that was here, and of the backup folder's own ledger all go into the machine's ledger now.

    Args:
        file: the backup's manifest or folder.
        record_folder: where the record belongs.
        replace_newer: also when the record that is there has rows the backup has not.

    Raises:
        BackupDamaged, RecordIsNewer, FolderInUse, FolderNotWritable: with what to do; nothing was changed.
    """
    manifest, bad = check_backup(file)
    backup = file if file.is_dir() else file.parent
    with _owned(record_folder):
        present = record_folder / FILE_NAME
        if present.exists() and not replace_newer:
            _refuse_newer(present, backup / FILE_NAME, record_folder)
        _carry_erasures(record_folder, present, backup)
        aside = _put_aside(record_folder, now) if present.exists() else None
        for name in manifest.files:
            target = record_folder / "raw" / name if name.endswith(JOURNAL_SUFFIX) else record_folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(backup / name, target)
        brought = _bring_raw(manifest, set(bad), backup.parent / "raw", record_folder / "raw")
    missing = tuple(name for name in bad if not _whole(record_folder / "raw" / name, manifest.raw.get(name)))
    return Restored(record_folder, manifest.made_at, brought, missing, aside)


@contextmanager
def _owned(folder: Path) -> Iterator[None]:
    lock = own_folder(folder)
    try:
        yield
    finally:
        lock.release()


def _refuse_newer(present: Path, backup: Path, folder: Path) -> None:
    """Rows that only the record here has would go; a record that cannot be read has none to lose."""
    try:
        with closing(sqlite3.connect(f"{present.as_uri()}?mode=ro", uri=True)) as here:
            here.execute("ATTACH DATABASE ? AS backup", (f"{backup.as_uri()}?mode=ro&immutable=1",))
            only_here = sum(_rows_only_here(here, name) for name in _tables(here))
    except sqlite3.DatabaseError:
        return
    if only_here:
        raise RecordIsNewer(folder, only_here)


def _tables(here: sqlite3.Connection) -> list[str]:
    names = here.execute("SELECT name FROM main.sqlite_master WHERE type = 'table'").fetchall()
    columns = "SELECT 1 FROM pragma_table_info(?) WHERE name = 'id'"
    return [row[0] for row in names if here.execute(columns, (row[0],)).fetchone()]


def _rows_only_here(here: sqlite3.Connection, name: str) -> int:
    there = here.execute("SELECT 1 FROM backup.sqlite_master WHERE name = ?", (name,)).fetchone()
    but = f"WHERE id NOT IN (SELECT id FROM backup.{name})" if there else ""
    return int(here.execute(f"SELECT count(*) FROM main.{name} {but}").fetchone()[0])


def _carry_erasures(record_folder: Path, present: Path, backup: Path) -> None:
    known = read_ledger(backup.parent.parent)
    if present.exists():
        try:
            with closing(sqlite3.connect(f"{present.as_uri()}?mode=ro", uri=True)) as here:
                rows = here.execute("SELECT id, athlete_id, day FROM erasures").fetchall()
            known += [Erasure(r[0], r[1], datetime.fromisoformat(r[2]).date()) for r in rows]
        except sqlite3.DatabaseError:  # of an early version, or damaged: the ledgers remain
            pass
    if known:
        write_ledger(record_folder.parent, known)


def _put_aside(record_folder: Path, now: datetime) -> Path:
    aside = record_folder / f"replaced-{now.astimezone(UTC):%Y-%m-%dT%H%M%SZ}"
    aside.mkdir()
    for name in (FILE_NAME, f"{FILE_NAME}-wal", f"{FILE_NAME}-shm"):
        if (record_folder / name).exists():
            (record_folder / name).replace(aside / name)
    for journal in (record_folder / "raw").glob(f"*{JOURNAL_SUFFIX}"):
        journal.replace(aside / journal.name)
    return aside


def _bring_raw(manifest: Manifest, bad: set[str], source: Path, target: Path) -> int:
    target.mkdir(parents=True, exist_ok=True)
    wanted = [n for n, known in manifest.raw.items() if n not in bad and not _whole(target / n, known)]
    for name in wanted:
        shutil.copy2(source / name, target / name)
    return len(wanted)


def _whole(file: Path, wanted: str | None) -> bool:
    return file.exists() and wanted is not None and checksum(file) == wanted
