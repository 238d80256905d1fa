"""Raw samples between racks and desk, in a thread and over a connection of their own: nothing else waits for them."""

from __future__ import annotations

import logging
import sqlite3
import time
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError

from station.store.errors import ServerRefused
from station.store.exchange_server import engine_for
from station.store.raw_files import forget_old_raw
from station.store.raw_shared import BYTES_PER_S, RawFetcher, RawSender
from station.store.shared_setting import url_for
from station.store.sharing import Role

log = logging.getLogger(__name__)

EVERY_S = 1.0
NOTHING_FOR_S = 10.0  # with nothing to move, and after a server that did not answer


class RawChore:
    """A rack brings its files, a desk fetches them; once a day what is too old goes.

    Args:
        folder: the record's.
        role: as whom.
        now: local, with zone.
        clock_s: monotonic.
    """

    every_s = EVERY_S

    def __init__(
        self,
        folder: Path,
        role: Role,
        now: Callable[[], datetime],
        clock_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._folder, self._role, self._now, self._clock_s = folder, role, now, clock_s
        self._url: str | None = None
        self._server: Engine | None = None
        self._mover: RawSender | RawFetcher | None = None
        self._not_before_s = 0.0
        self._cleared: date | None = None

    def turn(self) -> None:
        """Move one file, if its turn has come."""
        if self._clock_s() < self._not_before_s:
            return
        try:
            moved = self._move()
        except (DBAPIError, sqlite3.Error, OSError) as error:
            log.info("raw samples wait: %s", error)
            moved = 0
        wait_s = moved / BYTES_PER_S if moved else NOTHING_FOR_S
        self._not_before_s = self._clock_s() + wait_s

    def _move(self) -> int:
        self._follow_setting()
        today = self._now().date()
        if self._cleared != today:
            forget_old_raw(self._folder, today)
        if isinstance(self._mover, RawFetcher) and self._cleared != today:
            self._mover.clear(today)
        self._cleared = today
        return self._mover.turn(today) if self._mover is not None else 0

    def _follow_setting(self) -> None:
        """A machine may be joined, or leave, while stations run."""
        url = url_for(self._folder.parent, self._role)
        if url == self._url:
            return
        self.close()
        self._url = url
        if url is None:
            return
        try:
            self._server = engine_for(url)
        except ServerRefused as error:
            log.warning("%s", error)
            return
        kind = RawFetcher if self._role is Role.STAFF else RawSender
        self._mover = kind(self._folder, self._server)

    def close(self) -> None:
        """Close its connections."""
        if self._mover is not None:
            self._mover.close()
        if self._server is not None:
            self._server.dispose()
        self._mover = self._server = None
