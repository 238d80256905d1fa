"""Opening the record: one SQLite file in one data folder that one process owns, brought to today's version.

A write transaction begins with BEGIN IMMEDIATE, since a read that turns into a write fails with "locked" without
waiting; a commit is on the disk (synchronous=FULL in WAL mode) before it returns.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout
from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import DatabaseError, IntegrityError, OperationalError

from station.store.errors import (
    DatabaseTooNew,
    FolderInUse,
    FolderNotWritable,
    NotADatabase,
    RecordLocked,
    RowRefused,
    StoreError,
    WriteFailed,
)
from station.store.migrating import OtherVersion, migrate, newest_version

FILE_NAME = "record.sqlite"
WANTED_PRAGMAS = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}
BUSY_TIMEOUT_MS = 5000


class Database:
    """The record's file, open, owned by this process until `close`."""

    def __init__(self, folder: Path) -> None:
        """Open (or make) the record in `folder`.

        Raises:
            FolderNotWritable, FolderInUse, NotADatabase, DatabaseTooNew: with what to do.
        """
        self.folder = folder
        self.path = folder / FILE_NAME
        self._lock = own_folder(folder)
        try:
            _check_header(self.path)
            self.engine = _engine(self.path)
            self._bring_to_today()
        except StoreError:
            self._lock.release()
            raise
        except DatabaseError as error:
            self._lock.release()
            raise _open_failure(self.path, folder, error) from error

    @contextmanager
    def write(self, what: str) -> Iterator[Connection]:
        """One durable transaction; `what` names it in the sentence when the disk refuses.

        Raises:
            WriteFailed: nothing of it was kept.
        """
        try:
            with self.engine.begin() as connection:
                yield connection
        except OperationalError as error:
            raise WriteFailed(what, str(error.orig)) from error
        except IntegrityError as error:
            raise RowRefused(what, str(error.orig)) from error

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A short read; never held across a screen's life, since long readers keep the WAL from shrinking."""
        with self.engine.connect().execution_options(read_only=True) as connection:
            yield connection

    def empty_log(self) -> None:
        """Bring the write-ahead log into the file and empty it, as far as no reader stands in the way."""
        with self.engine.connect() as connection:
            raw = connection.connection.driver_connection
            assert isinstance(raw, sqlite3.Connection)
            raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    def close(self) -> None:
        """Close the file and give the folder free."""
        self.engine.dispose()
        self._lock.release()

    def _bring_to_today(self) -> None:
        with self.engine.connect() as connection:
            present = connection.execute(
                text("SELECT name FROM sqlite_master WHERE name = 'alembic_version'")
            )
            rows = (
                present.first()
                and connection.execute(text("SELECT version_num FROM alembic_version")).first()
            )
            connection.rollback()
        if rows and rows[0] == newest_version():
            return
        try:
            with self.engine.begin() as connection:
                migrate(connection)
        except OtherVersion as error:
            raise DatabaseTooNew(self.path, rows[0] if rows else "unknown") from error


def own_folder(folder: Path) -> FileLock:
    """The lock that one process holds on its data folder, taken; the caller gives it free.

    Raises:
        FolderInUse, FolderNotWritable: with what to do.
    """
    lock = FileLock(folder / "station.lock", timeout=0)
    try:
        # Check-in answers lie in it: for this machine account alone (where the system knows such a thing).
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        lock.acquire()
    except Timeout as error:
        raise FolderInUse(folder) from error
    except OSError as error:
        raise FolderNotWritable(folder, error.strerror or str(error)) from error
    return lock


def _open_failure(path: Path, folder: Path, error: DatabaseError) -> StoreError:
    """What kept the record from being opened, by SQLite's own code (sqlite.org/rescode.html)."""
    code = getattr(error.orig, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return RecordLocked(path)
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR):
        return FolderNotWritable(folder, str(error.orig))
    return NotADatabase(path, str(error.orig))


def _check_header(path: Path) -> None:
    """Refuse a file that is something else before SQLite writes beside it (SQLite file format, section 1.3)."""
    if not path.exists() or not path.stat().st_size:
        return
    with path.open("rb") as file:
        if file.read(16) != b"SQLite format 3\x00":
            raise NotADatabase(path, "the file does not begin as one")


def _engine(path: Path) -> Engine:
    engine = create_engine(f"sqlite:///{path}")
    event.listen(engine, "connect", _set_up_connection)
    event.listen(engine, "begin", _begin)
    return engine


def beside(path: Path) -> Engine:
    """The record's file for another thread of its own process, for what may be done again after a power cut.

    Its commits do not wait for the disk, so that the worker's hardly ever wait for them; what it wrote is on the disk
    with the worker's next commit.
    """
    engine = _engine(path)
    event.listen(engine, "connect", lambda raw, _record: raw.execute("PRAGMA synchronous = NORMAL"))
    return engine


def _set_up_connection(connection: sqlite3.Connection, _record: Any) -> None:
    """Take BEGIN over from the driver, set the pragmas, and read them back: a pragma can fail silently."""
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    for name, value in WANTED_PRAGMAS.items():
        cursor.execute(f"PRAGMA {name} = {value}")
        got = cursor.execute(f"PRAGMA {name}").fetchone()[0]
        if got != value:
            raise sqlite3.DatabaseError(f"{name} is {got}, not {value}")
    cursor.close()


def _begin(connection: Connection) -> None:
    reads_only = connection.get_execution_options().get("read_only", False)
    connection.exec_driver_sql("BEGIN" if reads_only else "BEGIN IMMEDIATE")
