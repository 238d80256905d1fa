"""What can go wrong with the record, each with what happened and what to do.

StoreError
  NotADatabase        the file is something else
  DatabaseTooNew      written by a newer station
  FolderInUse         a second station on the same data folder
  FolderNotWritable   the folder cannot be written
  WriteFailed         the disk refused a write
  RecordLocked        another program holds the record's file
  RowRefused          a row points at what is not there any more
  BackupFailed        a backup could not be made
  BackupDamaged       a backup is not whole
  RecordIsNewer       a restore would lose what was written since
  RawDamaged          a raw file is not what was written
  ServerRefused       the shared database cannot be used as it is
  ServerFailed        a PostgreSQL of this machine's own does not start
  ServerAway          the shared database does not answer
  ClaimedElsewhere    the sensor belongs to another rack
  SensorBookHeld      another program of the station holds the sensor book
  SensorBookUnreadable  the sensor book is there, and this user may not or cannot read it
"""

from __future__ import annotations

from pathlib import Path


class StoreError(Exception):
    """The record cannot be used as asked; the message says what happened and what to do."""


class NotADatabase(StoreError):
    """The record's file is not a database, or is damaged."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(
            f"{path} is not a station's record ({reason}); "
            "move it away or restore the last backup, nothing was changed"
        )


class DatabaseTooNew(StoreError):
    """The record was written by a newer version of the station."""

    def __init__(self, path: Path, revision: str) -> None:
        super().__init__(
            f"{path} was written by a newer station (record version {revision}); "
            "update this station, nothing was changed"
        )


class FolderInUse(StoreError):
    """Another station process owns this data folder."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f"another station is already using {folder}; close it, or name another folder with --data"
        )


class FolderNotWritable(StoreError):
    """The data folder cannot be made or written."""

    def __init__(self, folder: Path, reason: str) -> None:
        super().__init__(f"cannot write to {folder} ({reason}); name another folder with --data")


class WriteFailed(StoreError):
    """A record could not be made durable."""

    def __init__(self, what: str, reason: str) -> None:
        super().__init__(f"{what} could not be saved ({reason}); free disk space or check the disk")


class RecordLocked(StoreError):
    """Another program holds the record's file."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            f"another program holds {path} locked; close it (a database browser, a copy that runs) and start again"
        )


class RowRefused(StoreError):
    """A row points at what is not in the record any more: it was erased."""

    def __init__(self, what: str, reason: str) -> None:
        super().__init__(f"{what} belongs to what is no longer in the record ({reason}); it was not kept")


class BackupFailed(StoreError):
    """A backup could not be made."""

    def __init__(self, folder: Path, reason: str) -> None:
        super().__init__(
            f"no backup was made in {folder} ({reason}); check that folder, earlier backups are as they were"
        )


class BackupDamaged(StoreError):
    """A backup is not whole, or is none."""

    def __init__(self, file: Path, reason: str) -> None:
        super().__init__(f"{file} cannot be trusted ({reason}); take an earlier backup, nothing was changed")


class RecordIsNewer(StoreError):
    """A restore would lose what was written since the backup."""

    def __init__(self, folder: Path, rows: int) -> None:
        super().__init__(
            f"the record in {folder} has {rows} rows that this backup has not; "
            "restore it all the same with --replace (the present record is put aside), nothing was changed"
        )


class RawDamaged(StoreError):
    """A file of raw samples is missing, or not what was written."""

    def __init__(self, file: Path, reason: str) -> None:
        super().__init__(
            f"the raw samples in {file} cannot be trusted ({reason}); bring the file back from the folder 'raw' "
            "of a backup, the set's reps are in the record all the same"
        )


class ServerRefused(StoreError):
    """The shared database cannot be used as it is."""

    def __init__(self, url: str, reason: str) -> None:
        self.reason = reason
        super().__init__(f"{url} cannot be shared ({reason}); this record goes on by itself meanwhile")


class ServerFailed(StoreError):
    """A PostgreSQL of this machine's own cannot be made or started."""

    def __init__(self, folder: Path, reason: str) -> None:
        super().__init__(f"PostgreSQL in {folder} did not start ({reason}); its log is in that folder")


class ServerAway(StoreError):
    """The shared database does not answer."""

    def __init__(self, url: str, reason: str) -> None:
        super().__init__(f"{url} does not answer ({reason}); everything is kept here and handed on later")


class ClaimedElsewhere(StoreError):
    """A sensor belongs to another rack."""

    def __init__(self, sensor: str, rack: str) -> None:
        self.rack = rack
        super().__init__(
            f"{sensor} belongs to {rack}; choose another, or take it over with 'sensors claim --take-over'"
        )


class SensorBookHeld(StoreError):
    """Another program of the station holds the sensor book for longer than a change takes."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            f"another program of the station holds {path}, the sensor book; "
            "nothing measured is lost, close that program if need be"
        )


class SensorBookUnreadable(StoreError):
    """The sensor book is there and cannot be read: it is another user's, or the disk fails."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(
            f"the sensor book {path} cannot be read ({reason}); "
            "give the station's user access, or move it away"
        )
