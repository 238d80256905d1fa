"""What a station does beside its work, each in a thread that `threads` runs: the exchange, the nightly backup.

A chore knows the record's folder alone, opens what it needs by itself, and never touches the worker; what the worker
should do about it is handed back and carried out in the worker's own thread.
"""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from station.capture.room_board import RoomBoard, Teller
from station.store.errors import BackupFailed, ServerRefused, StoreError
from station.store.nightly import back_up_if_due
from station.store.raw_files import forget_old_raw
from station.store.shared_setting import url_for
from station.store.sharing import Role

if TYPE_CHECKING:
    from station.store.exchange import Exchange

log = logging.getLogger(__name__)

EXCHANGE_EVERY_S = 0.1
# Handed on at once, asked for twice a second: a rep is at every rack within a second.
ASKS_EACH = 5
KEEPING_EVERY_S = 60.0
AGAIN_AFTER = timedelta(hours=1)


class TakesNews(Protocol):
    """A worker that is told what came from elsewhere."""

    def news(self, tables: frozenset[str]) -> None:
        """Rows of these tables were added to the record by an exchange, or erased."""


class Chore(Protocol):
    """Something done every so often."""

    every_s: float

    def turn(self) -> Callable[[Any], None] | None:
        """Do it once; what the worker should do about it."""

    def close(self) -> None:
        """The end."""


class ExchangeChore:
    """Exchanges with the shared database, for ever; where it is away it goes on trying.

    Args:
        folder: the record's.
        role: as whom.
        now: with zone.
        board: how this rack stands is told from there; what staff hear of the racks is put there. None: neither.
    """

    every_s = EXCHANGE_EVERY_S

    def __init__(
        self, folder: Path, role: Role, now: Callable[[], datetime], board: RoomBoard | None = None
    ) -> None:
        self._folder, self._role, self._now, self._board = folder, role, now, board
        self._teller: Teller | None = None
        self._exchange: Exchange | None = None
        self._url: str | None = None
        self.away_since: datetime | None = None
        self.why_away = ""
        self._turns = 0
        self._more = False

    def turn(self) -> Callable[[Any], None] | None:
        """Hand on what waits, and now and then take in what others wrote."""
        if self._turns % ASKS_EACH == 0:
            self._follow_setting()
        self._turns += 1
        if self._exchange is None:
            return None
        asks = self._more or self._turns % ASKS_EACH == 0
        try:
            exchanged = self._exchange.turn(take_in=asks)
            self._more, pulled = exchanged.more, exchanged.pulled
            self._room(self._exchange, asks=asks)
        except StoreError as error:
            self._away(str(error))
            return None
        self.away_since, self.why_away = None, ""
        return _news(frozenset(pulled)) if pulled else None

    def _room(self, exchange: Exchange, *, asks: bool) -> None:
        """How this rack stands; at the desk, how all of them do."""
        if self._board is None:
            return
        if self._role is Role.STAFF:
            if asks:
                self._board.hear(exchange.hear_racks())
            return
        if self._teller is None:
            self._teller = Teller(self._board, exchange.tell_room)
        self._teller.turn()

    def _follow_setting(self) -> None:
        """A machine may be joined, or leave, while stations run."""
        url = url_for(self._folder.parent, self._role)
        if url == self._url:
            return
        self.close()
        self._url, self.away_since = url, None
        if url is None:
            return
        # The driver is loaded where there is something to share with, and not at every start.
        from station.store.exchange import Exchange

        try:
            self._exchange = Exchange(self._folder, url, self._role)
        except ServerRefused as error:
            self._away(str(error))

    def _away(self, why: str) -> None:
        if why != self.why_away:
            log.warning("%s", why)
        self.away_since, self.why_away = self.away_since or self._now(), why

    def close(self) -> None:
        """Close its connections, after a last word to the room where the server answers."""
        if self._exchange is not None:
            if self._teller is not None and self.away_since is None:
                with suppress(StoreError):
                    self._teller.turn()
            self._exchange.close()
            self._exchange = self._teller = None


class KeepingChore:
    """Once a minute: erasures written down by another program, the night's backup, raw samples that give way.

    Args:
        folder: the record's.
        now: local, with zone.
    """

    every_s = KEEPING_EVERY_S

    def __init__(self, folder: Path, now: Callable[[], datetime]) -> None:
        self._folder, self._now = folder, now
        self._not_before: datetime | None = None
        self._ledger = -1

    def turn(self) -> Callable[[Any], None] | None:
        """What is due now."""
        now = self._now()
        if self._not_before is None or now >= self._not_before:
            self._not_before = None
            self._back_up(now)
        return self._erasures()

    def _back_up(self, now: datetime) -> None:
        try:
            if back_up_if_due(self._folder, now) is not None:
                forget_old_raw(self._folder, now.date())
        except (BackupFailed, sqlite3.Error, OSError) as error:
            log.warning("%s", error)
            self._not_before = now + AGAIN_AFTER

    def _erasures(self) -> Callable[[Any], None] | None:
        file = self._folder.parent / "erased.csv"
        size = file.stat().st_size if file.exists() else 0
        if size == self._ledger:
            return None
        first, self._ledger = self._ledger < 0, size
        return None if first else _news(frozenset(["erasures"]))

    def close(self) -> None:
        """Nothing is held open."""


def _news(tables: frozenset[str]) -> Callable[[Any], None]:
    def tell(worker: TakesNews) -> None:
        worker.news(tables)

    return tell
