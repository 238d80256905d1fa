"""Raw samples of sets and jumps through the shared database: racks bring their files last, desks fetch them.

A file travels byte for byte and is kept only when its checksum is the one that was written down with the set. Racks
bring the newest first, as fast as `BYTES_PER_S` allows; a desk fetches one at once when its set is opened, and the
others slowly, those of jumps last. Files of sets older than the retention are neither brought nor fetched, and the
desk clears them away.
"""

from __future__ import annotations

import hashlib
import logging
from collections import deque
from collections.abc import Collection, Sequence
from contextlib import suppress
from datetime import date
from pathlib import Path

from sqlalchemy import Engine, Table, delete, func, select, text
from sqlalchemy.dialects.postgresql import insert as server_insert
from sqlalchemy.exc import DBAPIError, IntegrityError

from station.store.database import FILE_NAME, beside
from station.store.errors import ServerAway
from station.store.exchange_server import PATIENCE, engine_for, without_password
from station.store.raw_files import FOLDER, KEPT_FOR
from station.store.raw_kinds import COLUMNS, KINDS, Kind, RawName
from station.store.share_tables import outgoing, raw_contents
from station.store.shared_setting import url_for
from station.store.sharing import Role
from station.store.tables import raw_files

log = logging.getLogger(__name__)

BYTES_PER_S = 250_000.0
_PAGE = 500


class RawSender:
    """Brings a rack's own files.

    Args:
        folder: the record's.
        server: of the shared database.
    """

    def __init__(self, folder: Path, server: Engine) -> None:
        self._folder, self._server = folder, server
        self._local = beside(folder / FILE_NAME)
        self._waiting: dict[Kind, deque[RawName]] = {kind: deque() for kind in KINDS}
        self._newest = dict.fromkeys(KINDS, "")

    def turn(self, today: date) -> int:
        """Bring one file, where nothing else waits to be handed on; its bytes, 0 where there is nothing to do.

        Raises:
            DBAPIError: the server does not answer; the file is brought again.
        """
        with self._local.connect() as here:
            if here.execute(select(func.count()).select_from(outgoing)).scalar_one():
                return 0
        for kind in KINDS:
            self._find(kind, today)
            waiting = self._waiting[kind]
            if waiting:
                sent = self._send(kind, waiting[0])
                waiting.popleft()
                return sent
        return 0

    def close(self) -> None:
        """Let go of the record."""
        self._local.dispose()

    def _find(self, kind: Kind, today: date) -> None:
        """Files written since the last look that the server has not; the newest come first."""
        query = kind.kept(today).where(kind.raw_id > self._newest[kind]).order_by(kind.raw_id)
        with self._local.connect() as here:
            found = [RawName(*row) for row in here.execute(query)]
        if not found:
            return
        own = [one for one in found if (self._folder / FOLDER / one.file).exists()]
        there = there_already(self._server, kind.contents, [one.raw_id for one in own])
        self._newest[kind] = found[-1].raw_id
        self._waiting[kind].extendleft(one for one in own if one.raw_id not in there)

    def _send(self, kind: Kind, one: RawName) -> int:
        try:
            content = (self._folder / FOLDER / one.file).read_bytes()
        except OSError:  # its time is over, or its athlete was erased
            return 0
        if hashlib.sha256(content).hexdigest() != one.sha256:
            log.warning("the raw samples in %s are not what was written and are not handed on", one.file)
            return 0
        with suppress(IntegrityError), self._server.begin() as there:  # its set is gone there: erased
            there.execute(text(PATIENCE))
            there.execute(server_insert(kind.contents).on_conflict_do_nothing(), kind.row(one, content))
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
        self._before: dict[Kind, str | None] = dict.fromkeys(KINDS)

    def turn(self, today: date) -> int:
        """Fetch one file that is missing; its bytes, 0 where none of this page is to be had.

        Raises:
            DBAPIError: the server does not answer.
        """
        for kind in KINDS:
            fetched = self._fetch(kind, today)
            if fetched:
                return fetched
        return 0

    def _fetch(self, kind: Kind, today: date) -> int:
        query = kind.kept(today).order_by(kind.raw_id.desc()).limit(_PAGE)
        before = self._before[kind]
        if before is not None:
            query = query.where(kind.raw_id < before)
        with self._local.connect() as here:
            page = [RawName(*row) for row in here.execute(query)]
        missing = [one for one in page if not _lies_here(self._folder, one.file)]
        there = there_already(self._server, kind.contents, [one.raw_id for one in missing])
        found = next((one for one in missing if one.raw_id in there), None)
        if found is None:
            self._before[kind] = page[-1].raw_id if len(page) == _PAGE else None
            return 0
        return bring(self._folder, self._server, found, kind.contents)

    def clear(self, today: date) -> int:
        """Delete from the server what is older than the retention; how many files."""
        gone = 0
        with self._server.begin() as there:
            for kind in KINDS:
                old = kind.named.with_only_columns(kind.raw_id).where(kind.day < today - KEPT_FOR)
                gone += int(
                    there.execute(delete(kind.contents).where(kind.contents.c.raw_id.in_(old))).rowcount
                )
        return gone

    def close(self) -> None:
        """Let go of the record."""
        self._local.dispose()


def bring(folder: Path, server: Engine, one: RawName, contents: Table = raw_contents) -> int:
    """Put one file into a record's folder; its bytes, 0 where the server has none that is what was written."""
    with server.begin() as there:
        there.execute(text(PATIENCE))
        query = select(contents.c.content).where(contents.c.raw_id == one.raw_id)
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
        query = select(*COLUMNS).where(raw_files.c.set_id == set_id).order_by(raw_files.c.id)
        with local.connect() as here:
            names = [RawName(*row) for row in here.execute(query)]
        return sum(bool(bring(folder, server, one)) for one in names if not _lies_here(folder, one.file))
    except DBAPIError as error:
        raise ServerAway(without_password(url), str(error.orig).splitlines()[0]) from error
    finally:
        local.dispose()
        server.dispose()


def there_already(server: Engine, contents: Table, ids: Sequence[str]) -> Collection[str]:
    """Which of these files the server has."""
    found: set[str] = set()
    for first in range(0, len(ids), _PAGE):
        query = select(contents.c.raw_id).where(contents.c.raw_id.in_(ids[first : first + _PAGE]))
        with server.begin() as there:
            found |= set(there.execute(query).scalars())
    return found


def _lies_here(folder: Path, file: str) -> bool:
    """In this record's folder, or in that of another record of the machine."""
    return any((home / FOLDER / file).exists() for home in (folder, *folder.parent.glob("*")))
