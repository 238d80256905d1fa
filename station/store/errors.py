"""What can go wrong with the record, each with what happened and what to do.

StoreError
  NotADatabase        the file is something else
  DatabaseTooNew      written by a newer station
  FolderInUse         a second station on the same data folder
  FolderNotWritable   the folder cannot be written
  WriteFailed         the disk refused a write
  ClaimedElsewhere    the sensor belongs to another rack
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


class ClaimedElsewhere(StoreError):
    """A sensor belongs to another rack."""

    def __init__(self, sensor: str, rack: str) -> None:
        self.rack = rack
        super().__init__(
            f"{sensor} belongs to {rack}; choose another, or take it over with 'sensors claim --take-over'"
        )
