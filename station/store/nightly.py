"""The nightly backup: to which second folder, whether it is due, and what became of it.

A night's backup belongs to the day that began at two in the morning. A machine that was off at that time makes it up
once it has run for a few minutes.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from station.store.backup import last_backup, make_backup
from station.store.errors import FolderNotWritable

FILE_NAME = "backup.json"
BEGINS = timedelta(hours=2)


@dataclass(frozen=True, slots=True)
class Nightly:
    """Where the records of this machine are backed up to each night, and since when that is so."""

    folder: Path
    since: datetime


def read_nightly(root: Path) -> Nightly | None:
    """The setting of a machine, from the folder that holds its records; None: no second folder was named."""
    try:
        kept = json.loads((root / FILE_NAME).read_text(encoding="utf-8"))
        return Nightly(Path(kept["folder"]), datetime.fromisoformat(kept["since"]))
    except (OSError, ValueError, TypeError, KeyError):
        return None


def keep_nightly(root: Path, nightly: Nightly) -> None:
    """Keep the setting.

    Raises:
        FolderNotWritable: with what to do.
    """
    try:
        root.mkdir(parents=True, exist_ok=True)
        words = {"folder": str(nightly.folder), "since": nightly.since.isoformat()}
        (root / FILE_NAME).write_text(json.dumps(words), encoding="utf-8")
    except OSError as error:
        raise FolderNotWritable(root, error.strerror or str(error)) from error


def last_good(record_folder: Path) -> datetime | None:
    """When the last good backup was made; where none was made since one was wished for, when that was wished.

    Returns:
        None where nobody asked for backups.
    """
    made, nightly = last_backup(record_folder), read_nightly(record_folder.parent)
    return made if made is not None else nightly.since if nightly is not None else None


def due(record_folder: Path, now: datetime) -> bool:
    """Whether this night's backup is still to be made. `now` is local, with zone."""
    if read_nightly(record_folder.parent) is None:
        return False
    made = last_backup(record_folder)
    return made is None or _night(made.astimezone(now.tzinfo)) < _night(now)


def back_up_if_due(record_folder: Path, now: datetime) -> Path | None:
    """Make this night's backup if it is to be made; its manifest.

    Raises:
        BackupFailed: with what to do; it stays due.
    """
    nightly = read_nightly(record_folder.parent)
    if nightly is None or not due(record_folder, now):
        return None
    return make_backup(record_folder, nightly.folder, now)


def _night(at: datetime) -> date:
    return (at - BEGINS).date()
