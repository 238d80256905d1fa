"""Records opened for reading alone: nothing is written beside them, and no station is kept from its own.

Records of a machine (one a rack, desk or screen) hold the same rows under the same ids, and corrections may lie in
another one than what they correct. So all are read into one scratch database that is gone when it is closed; what was
erased is erased there too, before anything is read.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import StaticPool

from station.store import squad_tables, tables
from station.store.database import FILE_NAME
from station.store.erased_ledger import Erasure, read_ledger
from station.store.erasure import add_erasures
from station.store.exchange_server import engine_for, without_password
from station.store.export_errors import NoRecord, RecordUnreadable, SharedUnreadable
from station.store.review_tables import comments
from station.store.share_tables import erasures

_TABLES = (
    *(tables.athletes, tables.sets, tables.reps, tables.corrections, tables.raw_files, comments),
    *(
        squad_tables.roster_changes,
        squad_tables.training_statuses,
        squad_tables.jumps,
        squad_tables.check_ins,
    ),
)
_NOT_READ = {"curve"}  # of a rep, for the screen; most of a record's size
_WAIT_S = 5.0


class _BegunMeanwhile(Exception):
    """A station began while its record was read as one that nobody has open: what was read may not be whole."""


class Source:
    """A record or several, or a shared database, for reading alone."""

    def __init__(self, engine: Engine, folders: Sequence[Path] = (), url: str | None = None) -> None:
        """Take `engine` over; `folders` are the records' own, where raw samples lie."""
        self._engine, self.folders, self._url = engine, tuple(folders), url

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A connection that cannot write to any record.

        Raises:
            SharedUnreadable: a shared database does not answer, or does not let it be read.
        """
        try:
            with self._engine.connect() as connection:
                if self._url is not None:
                    connection = connection.execution_options(postgresql_readonly=True)
                yield connection
        except DBAPIError as error:
            if self._url is None:
                raise
            reason = str(error.orig).strip().splitlines()[0]
            raise SharedUnreadable(without_password(self._url), reason) from error

    def close(self) -> None:
        """Let go of it."""
        self._engine.dispose()


def open_source(path_or_url: str | Path) -> Source:
    """Open for reading alone.

    Args:
        path_or_url: a machine's data folder with all its records, one record's folder or file, or a PostgreSQL URL.

    Raises:
        NoRecord, RecordUnreadable, ServerRefused: with what to do.
    """
    if "://" in str(path_or_url):
        return Source(engine_for(str(path_or_url)), url=str(path_or_url))
    path = Path(path_or_url)
    files = _files(path)
    if not files:
        raise NoRecord(path)
    engine = create_engine(
        "sqlite://",
        creator=lambda: sqlite3.connect("", uri=True, check_same_thread=False, timeout=_WAIT_S),
        poolclass=StaticPool,
    )
    try:
        _gather(engine, files)
    except BaseException:
        engine.dispose()
        raise
    return Source(engine, [file.parent for file in files])


def _files(path: Path) -> list[Path]:
    """The record's files that are meant."""
    if path.is_file():
        return [path.resolve()]
    own = path / FILE_NAME
    found = [own] if own.exists() else sorted(path.glob(f"*/{FILE_NAME}"))
    return [file.resolve() for file in found]


def _gather(engine: Engine, files: Sequence[Path]) -> None:
    tables.metadata.create_all(engine, tables=[*tables.metadata.sorted_tables])
    gone: dict[str, Erasure] = {}
    for file in files:
        ledger = read_ledger(file.parent) + read_ledger(file.parent.parent)
        for one in [*ledger, *_take(engine, file)]:
            gone.setdefault(one.athlete_id, one)
    with engine.begin() as connection:
        add_erasures(connection, gone.values())


def _take(engine: Engine, file: Path) -> list[Erasure]:
    """Copy one record's rows into the scratch; the erasures that it knows."""
    try:
        if not any(_log_of(file)):
            with suppress(_BegunMeanwhile):
                return _copied(engine, file, quiet=True)
        return _copied(engine, file, quiet=False)
    except sqlite3.Error as error:
        raise RecordUnreadable(file, str(error)) from error


def _log_of(file: Path) -> tuple[bool, bool]:
    """Whether its write-ahead log and the log's index are there: somebody has the record open."""
    return file.with_name(f"{file.name}-wal").exists(), file.with_name(f"{file.name}-shm").exists()


def _state(file: Path) -> tuple[object, ...]:
    stat = file.stat()
    return (*_log_of(file), stat.st_mtime_ns, stat.st_size)


def _copied(engine: Engine, file: Path, *, quiet: bool) -> list[Erasure]:
    """Copy in one read transaction.

    Args:
        quiet: nobody has the file open. Then it is opened as immutable (sqlite.org/uri.html), since a plain read-only
            connection leaves a write-ahead log beside a file in WAL mode (sqlite.org/wal.html#readonly).
    """
    raw = engine.raw_connection().driver_connection
    assert isinstance(raw, sqlite3.Connection)
    words = f"{file.as_uri()}?mode=ro{'&immutable=1' if quiet else ''}"
    before = _state(file)
    raw.execute("ATTACH DATABASE ? AS other", (words,))
    try:
        theirs = {row[0] for row in raw.execute("SELECT name FROM other.sqlite_master WHERE type = 'table'")}
        if tables.sets.name not in theirs:
            raise sqlite3.DatabaseError("it is not a station's record")
        raw.execute("BEGIN")
        for table in _TABLES:
            _copy(raw, table.name)
        gone = raw.execute(f"SELECT id, athlete_id, day FROM other.{erasures.name}")
        found = [Erasure(row[0], row[1], date.fromisoformat(row[2])) for row in gone]
        if quiet and _state(file) != before:
            raise _BegunMeanwhile
        raw.commit()
        return found
    except sqlite3.Error:
        if quiet and _state(file) != before:
            raise _BegunMeanwhile from None
        raise
    finally:
        raw.rollback()
        raw.execute("DETACH DATABASE other")


def _copy(raw: sqlite3.Connection, name: str) -> None:
    theirs = {row[1] for row in raw.execute(f"PRAGMA other.table_info({name})")}
    ours = [row[1] for row in raw.execute(f"PRAGMA main.table_info({name})")]
    if theirs != set(ours):
        raise sqlite3.DatabaseError("it is of another version of the station")
    listed = ", ".join(c for c in ours if c not in _NOT_READ)
    raw.execute(f"INSERT OR IGNORE INTO main.{name} ({listed}) SELECT {listed} FROM other.{name}")
