"""Backups of one record: made while it is written to, checked before they count, read back only whole.

A backup is a folder: `record.sqlite` as it stood at one instant, the raw samples of the set that was open, and
`manifest.json` with a checksum of each. Finished raw files never change and lie once beside all backups, in `raw`;
one that is damaged here never takes the place of a sound one there. The manifest is written last: without it a folder
is no backup.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
from contextlib import closing
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from station.store.database import FILE_NAME
from station.store.erased_ledger import read_ledger, write_ledger
from station.store.errors import BackupDamaged, BackupFailed
from station.store.journal import JOURNAL_SUFFIX

MANIFEST = "manifest.json"
LAST = "last-backup.json"
# Name and SHA-256 of every raw file of a record, of sets and of jumps.
_OF_JUMPS = "SELECT raw_file, raw_sha256 FROM jumps WHERE raw_file IS NOT NULL"
RAW_CHECKSUMS = f"SELECT file, sha256 FROM raw_files UNION ALL {_OF_JUMPS}"
KEPT = 14  # two weeks of nights; older ones give way, raw files stay
_STAMP = "%Y-%m-%dT%H%M%SZ"
_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup holds.

    Attributes:
        rack: name of the record's folder.
        made_at: UTC.
        files: SHA-256 by name, relative to the backup's folder (record, open journals, settings).
        raw: SHA-256 by name of the finished raw files beside it.
        damaged: raw files that are not what the record says they were when they were written.
    """

    rack: str
    made_at: datetime
    files: dict[str, str]
    raw: dict[str, str]
    damaged: tuple[str, ...] = ()


def make_backup(record_folder: Path, to: Path, now: datetime) -> Path:
    """Back up one record into `to`/<name of its folder>/<instant>, also while a station writes to it.

    Returns:
        The backup's manifest.

    Raises:
        BackupFailed: what happened and what to do; what was there before is as it was.
    """
    if not (record_folder / FILE_NAME).exists():
        raise BackupFailed(record_folder, "there is no record in it")
    home = to / record_folder.name
    final = home / now.astimezone(UTC).strftime(_STAMP)
    half = final.with_name(f"{final.name}.half")
    try:
        shutil.rmtree(half, ignore_errors=True)
        half.mkdir(parents=True)
        _copy_record(record_folder / FILE_NAME, half / FILE_NAME)
        raw, damaged = _copy_raw(record_folder / "raw", home / "raw", half)
        for settings in record_folder.glob("*.json"):
            if settings.name != LAST:
                shutil.copy2(settings, half)
        files = {file.name: checksum(file) for file in sorted(half.iterdir())}
        manifest = Manifest(record_folder.name, now.astimezone(UTC), files, raw, damaged)
        _write_durably(half / MANIFEST, _as_text(manifest))
        half.replace(final)
        write_ledger(to, read_ledger(record_folder.parent))
        _remember(record_folder, final, now)
        _keep_the_newest(home)
    except (OSError, sqlite3.Error) as error:
        shutil.rmtree(half, ignore_errors=True)
        raise BackupFailed(to, str(error)) from error
    return final / MANIFEST


def _copy_record(source: Path, target: Path) -> None:
    """One instant of the record, read while others write, and checked as a database of its own."""
    with closing(sqlite3.connect(f"{source.as_uri()}?mode=ro", uri=True, timeout=10.0)) as connection:
        connection.execute("VACUUM INTO ?", (str(target),))
    check_database(target)
    _sync(target)


def check_database(file: Path) -> None:
    """SQLite's own two checks (sqlite.org/pragma.html#pragma_integrity_check).

    Raises:
        BackupDamaged: what they say.
    """
    try:
        with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro&immutable=1", uri=True)) as connection:
            said = connection.execute("PRAGMA integrity_check(5)").fetchall()
            loose = connection.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.DatabaseError as error:
        raise BackupDamaged(file, str(error)) from error
    if said != [("ok",)]:
        raise BackupDamaged(file, "; ".join(str(row[0]) for row in said))
    if loose:
        raise BackupDamaged(file, f"{len(loose)} rows point at rows that are not there")


def _copy_raw(source: Path, target: Path, half: Path) -> tuple[dict[str, str], tuple[str, ...]]:
    """Finished raw files that are not there yet, journals of open sets too; checksums, and what is damaged."""
    known = _checksums_of(half / FILE_NAME)
    sums: dict[str, str] = {}
    damaged: list[str] = []
    for file in sorted(source.glob("*")) if source.exists() else []:
        if file.suffix == JOURNAL_SUFFIX:
            shutil.copy2(file, half)
        elif file.suffix == ".parquet" and file.name in known:
            there = target / file.name
            if not there.exists() or checksum(there) != known[file.name]:
                if checksum(file) != known[file.name]:
                    damaged.append(file.name)
                    continue
                _copy_whole(file, there)
            sums[file.name] = known[file.name]
    return sums, tuple(damaged)


def _checksums_of(record: Path) -> dict[str, str]:
    with closing(sqlite3.connect(f"{record.as_uri()}?mode=ro&immutable=1", uri=True)) as connection:
        return dict(connection.execute(RAW_CHECKSUMS).fetchall())


def _copy_whole(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    half = target.with_suffix(".half")
    shutil.copy2(source, half)
    _sync(half)
    half.replace(target)


def read_manifest(file: Path) -> Manifest:
    """The manifest of a backup, from its file or its folder.

    Raises:
        BackupDamaged: it is none, or makes no sense.
    """
    file = file / MANIFEST if file.is_dir() else file
    try:
        data = json.loads(file.read_text(encoding="utf-8"))
        made_at = datetime.fromisoformat(data.pop("made_at"))
        return replace(Manifest(made_at=made_at, **data), damaged=tuple(data["damaged"]))
    except (OSError, ValueError, TypeError, KeyError, AttributeError) as error:
        raise BackupDamaged(file, f"not the manifest of a backup: {error}") from error


def last_backup(record_folder: Path) -> datetime | None:
    """When the last good backup of this record was made, UTC; None: never."""
    try:
        kept = json.loads((record_folder / LAST).read_text(encoding="utf-8"))
        return datetime.fromisoformat(kept["made_at"])
    except (OSError, ValueError, TypeError, KeyError):
        return None


def checksum(file: Path) -> str:
    """SHA-256 of a file."""
    with file.open("rb") as data:
        return hashlib.file_digest(data, "sha256").hexdigest()


def _remember(record_folder: Path, made: Path, now: datetime) -> None:
    words = {"made_at": now.astimezone(UTC).isoformat(), "folder": str(made)}
    _write_durably(record_folder / LAST, json.dumps(words))


def _keep_the_newest(home: Path) -> None:
    for old in sorted(home.glob(f"*/{MANIFEST}"))[:-KEPT]:
        shutil.rmtree(old.parent)


def _as_text(manifest: Manifest) -> str:
    return json.dumps(asdict(manifest) | {"made_at": manifest.made_at.isoformat()}, indent=1)


def _write_durably(file: Path, words: str) -> None:
    half = file.with_suffix(".new")
    half.write_text(words, encoding="utf-8")
    _sync(half)
    half.replace(file)


def _sync(file: Path) -> None:
    with file.open("rb+") as data:
        os.fsync(data.fileno())
