"""Raw samples through the shared database: racks bring their files once nothing else waits, desks fetch them.

A file travels byte for byte and is kept only when its checksum is the one that was written down with the set. Racks
bring the newest first, as fast as `BYTES_PER_S` allows; a desk fetches one at once when its set is opened, and the
others slowly. Files of sets older than the retention are neither brought nor fetched, and the desk clears them away.
"""

from __future__ import annotations

import hashlib
import logging
from collections import deque
from collections.abc import Collection, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, Select, delete, func, select, text
from sqlalchemy.dialects.postgresql import insert as server_insert
from sqlalchemy.exc import DBAPIError, IntegrityError

from station.store.database import FILE_NAME, beside
from station.store.errors import ServerAway
from station.store.exchange_server import PATIENCE, engine_for, without_password
from station.store.raw_files import FOLDER, KEPT_FOR
from station.store.share_tables import outgoing, raw_contents
from station.store.shared_setting import url_for
from station.store.sharing import Role
from station.store.tables import raw_files, sets

log = logging.getLogger(__name__)

BYTES_PER_S = 250_000.0
_PAGE = 500


@dataclass(frozen=True, slots=True)
class RawName:
    """One file of raw samples as the record names it."""

    raw_id: str
    set_id: str
    file: str
    sha256: str


class RawSender:
    """Brings a rack's own files.

    Args:
        folder: the record's.
        server: of the shared database.
    """

    def __init__(self, folder: Path, server: Engine) -> None:
        self._folder, self._server = folder, server
        self._local = beside(folder / FILE_NAME)
        self._waiting: deque[RawName] = deque()
        self._newest = ""

    def turn(self, today: date) -> int:
        """Bring one file, where nothing else waits to be handed on; its bytes, 0 where there is nothing to do.

        Raises:
            DBAPIError: the server does not answer; the file is brought again.
        """
        with self._local.connect() as here:
            if here.execute(select(func.count()).select_from(outgoing)).scalar_one():
                return 0
        self._find(today)
        if not self._waiting:
            return 0
        one = self._waiting[0]
        sent = self._send(one)
        self._waiting.popleft()
        return sent

    def close(self) -> None:
        """Let go of the record."""
        self._local.dispose()

    def _find(self, today: date) -> None:
        """Files written since the last look that the server has not; the newest come first."""
        query = _named(today).where(raw_files.c.id > self._newest).order_by(raw_files.c.id)
        with self._local.connect() as here:
            found = [RawName(*row) for row in here.execute(query)]
        if not found:
            return
        own = [one for one in found if (self._folder / FOLDER / one.file).exists()]
        there = there_already(self._server, [one.raw_id for one in own])
        self._newest = found[-1].raw_id
        self._waiting.extendleft(one for one in own if one.raw_id not in there)

    def _send(self, one: RawName) -> int:
        try:
            content = (self._folder / FOLDER / one.file).read_bytes()
        except OSError:  # its time is over, or its athlete was erased
            return 0
        if hashlib.sha256(content).hexdigest() != one.sha256:
            log.warning("the raw samples in %s are not what was written and are not handed on", one.file)
            return 0
        row = {"raw_id": one.raw_id, "set_id": one.set_id, "sha256": one.sha256, "content": content}
        with suppress(IntegrityError), self._server.begin() as there:  # its set is gone there: erased
            there.execute(text(PATIENCE))
            there.execute(server_insert(raw_contents).on_conflict_do_nothing(), row)
        return len(content)


class RawFetcher:
    """Fetches for a desk, one file at a time: the newest sets first, round and round.

    Args:
        folder: the record's; other records of the machine are looked into, so that nothing lies there twice.
        server: of the shared database.
    """

    def __init__(self, folder: Path, server: Engine) -> None:
        self._folder, self._server = folder, server
        self._local = beside(folder / FILE_NAME)
        self._before: str | None = None

    def turn(self, today: date) -> int:
        """Fetch one file that is missing; its bytes, 0 where none of this page is to be had.

        Raises:
            DBAPIError: the server does not answer.
        """
        query = _named(today).order_by(raw_files.c.id.desc()).limit(_PAGE)
        if self._before is not None:
            query = query.where(raw_files.c.id < self._before)
        with self._local.connect() as here:
            page = [RawName(*row) for row in here.execute(query)]
        missing = [one for one in page if not _lies_here(self._folder, one.file)]
        there = there_already(self._server, [one.raw_id for one in missing])
        found = next((one for one in missing if one.raw_id in there), None)
        if found is None:
            self._before = page[-1].raw_id if len(page) == _PAGE else None
            return 0
        return bring(self._folder, self._server, found)

    def clear(self, today: date) -> int:
        """Delete from the server what is older than the retention; how many files."""
        old = (
            select(raw_files.c.id)
            .join(sets, sets.c.id == raw_files.c.set_id)
            .where(sets.c.day < today - KEPT_FOR)
        )
        with self._server.begin() as there:
            return int(there.execute(delete(raw_contents).where(raw_contents.c.raw_id.in_(old))).rowcount)

    def close(self) -> None:
        """Let go of the record."""
        self._local.dispose()


def bring(folder: Path, server: Engine, one: RawName) -> int:
    """Put one file into a record's folder; its bytes, 0 where the server has none that is what was written."""
    with server.begin() as there:
        there.execute(text(PATIENCE))
        query = select(raw_contents.c.content).where(raw_contents.c.raw_id == one.raw_id)
        content = there.execute(query).scalar()
    if content is None:
        return 0
    if hashlib.sha256(content).hexdigest() != one.sha256:
        log.warning("the raw samples of %s came damaged and were not kept", one.set_id)
        return 0
    target = folder / FOLDER / one.file
    target.parent.mkdir(parents=True, exist_ok=True)
    half = target.with_suffix(".part")
    half.write_bytes(content)
    half.replace(target)
    return len(content)


def fetch_set(folder: Path, set_id: str) -> int:
    """Fetch the raw samples of a set that somebody opens, at once; how many files came.

    Args:
        folder: of a desk's record.

    Raises:
        ServerAway, ServerRefused: they may lie in the shared database, which does not answer.
    """
    url = url_for(folder.parent, Role.STAFF)
    if url is None:
        return 0
    local, server = beside(folder / FILE_NAME), engine_for(url)
    try:
        query = select(*_COLUMNS).where(raw_files.c.set_id == set_id).order_by(raw_files.c.id)
        with local.connect() as here:
            names = [RawName(*row) for row in here.execute(query)]
        return sum(bool(bring(folder, server, one)) for one in names if not _lies_here(folder, one.file))
    except DBAPIError as error:
        raise ServerAway(without_password(url), str(error.orig).splitlines()[0]) from error
    finally:
        local.dispose()
        server.dispose()


def there_already(server: Engine, ids: Sequence[str]) -> Collection[str]:
    """Which of these files the server has."""
    found: set[str] = set()
    for first in range(0, len(ids), _PAGE):
        query = select(raw_contents.c.raw_id).where(raw_contents.c.raw_id.in_(ids[first : first + _PAGE]))
        with server.begin() as there:
            found |= set(there.execute(query).scalars())
    return found


_COLUMNS = (raw_files.c.id, raw_files.c.set_id, raw_files.c.file, raw_files.c.sha256)


def _named(today: date) -> Select[Any]:
    """Files of sets whose raw samples are still kept."""
    query = select(*_COLUMNS).join(sets, sets.c.id == raw_files.c.set_id)
    return query.where(sets.c.day >= today - KEPT_FOR)


def _lies_here(folder: Path, file: str) -> bool:
    """In this record's folder, or in that of another record of the machine."""
    return any((home / FOLDER / file).exists() for home in (folder, *folder.parent.glob("*")))
