"""What a rack does for the room beside its work: says how it stands, and hears what was decided at the desk."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Protocol

from station.capture.room_board import RoomBoard, Teller
from station.capture.room_report import RackReporter, TellsTheRoom
from station.store.database import FILE_NAME
from station.store.errors import SensorBookUnreadable
from station.store.known_sensor import KnownSensor
from station.store.rack_states import tell_machine
from station.store.sensor_book import SensorBook

log = logging.getLogger(__name__)

REPORT_EVERY_S = 0.25
HEAR_EVERY_S = 0.5
DESKS = ("room", "desk")  # whose records may hold decisions about a rack's suggestions
_SINCE = timedelta(hours=24)
_WAIT_S = 2.0


class RoomChore:
    """Asks the rack how it stands and tells the machine; the exchange tells the server from the same board.

    Args:
        folder: the record's.
        board: where the report is put.
        now: with zone.
    """

    every_s = REPORT_EVERY_S

    def __init__(self, folder: Path, board: RoomBoard, now: Callable[[], datetime]) -> None:
        self._folder, self._board, self._now = folder, board, now
        self._book, self._reporter = SensorBook(folder.parent), RackReporter()
        self._teller = Teller(board, lambda report: tell_machine(folder, report))

    def turn(self) -> Callable[[Any], None] | None:
        """Tell what is new; the worker makes the next report."""
        self._teller.turn()
        sensors = self._sensors()

        def look(rack: TellsTheRoom) -> None:
            report = self._reporter.report(rack, sensors, self._now())
            if report is not None:
                self._board.say(report)

        return look

    def _sensors(self) -> list[KnownSensor]:
        try:
            return self._book.sensors()
        except SensorBookUnreadable:  # the rack's screen says so
            return []

    def close(self) -> None:
        """Closed in order: nobody need look for this rack."""
        if self._board.own is not None:
            self._board.say(replace(self._board.own, closed=True, set_open=False))
            self._teller.turn()


class HearsDecisions(Protocol):
    """A rack that takes over what was decided elsewhere."""

    def decided_elsewhere(self, rows: list[dict[str, Any]]) -> None:
        """Rows of the table `decisions` about sets of this rack."""


class DecisionsNearby:
    """Hears what the desk's programs on this machine have decided about this rack's suggestions.

    Args:
        folder: the record's; the desk's lie beside it.
        rack: whose sets.
        now: UTC.
    """

    every_s = HEAR_EVERY_S

    def __init__(self, folder: Path, rack: str, now: Callable[[], datetime]) -> None:
        self._files = [folder.parent / name / FILE_NAME for name in DESKS]
        self._files = [file for file in self._files if file.parent != folder]
        self._rack, self._now = rack, now
        self._seen: dict[Path, tuple[object, ...]] = {}
        self._last = ""

    def turn(self) -> Callable[[Any], None] | None:
        """What is new there."""
        rows: list[dict[str, Any]] = []
        for file in self._files:
            state = _state(file)
            if state and state != self._seen.get(file):
                try:
                    rows += self._decided(file)
                    self._seen[file] = state
                except sqlite3.Error as error:  # busy, or of another version: looked at again
                    log.info("%s: decisions cannot be read now: %s", file, error)
        if not rows:
            return None
        self._last = max(self._last, *(row["id"] for row in rows))
        return lambda rack: _tell(rack, rows)

    def _decided(self, file: Path) -> list[dict[str, Any]]:
        query = (
            "SELECT decisions.* FROM decisions JOIN sets ON sets.id = decisions.set_id "
            "WHERE sets.rack = ? AND decisions.id > ? AND decisions.born_at > ? ORDER BY decisions.id"
        )
        since = (self._now() - _SINCE).replace(tzinfo=None).isoformat(" ")
        with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True, timeout=_WAIT_S)) as connection:
            connection.row_factory = sqlite3.Row
            found = connection.execute(query, (self._rack, self._last, since)).fetchall()
        # SQLite keeps no zone: the record's instants are UTC.
        born = [datetime.fromisoformat(row["born_at"]).replace(tzinfo=UTC) for row in found]
        return [dict(row) | {"born_at": at} for row, at in zip(found, born, strict=True)]

    def close(self) -> None:
        """Nothing is held open."""


def _tell(rack: HearsDecisions, rows: list[dict[str, Any]]) -> None:
    rack.decided_elsewhere(rows)


def _state(file: Path) -> tuple[object, ...]:
    """Changes whenever something was written; () where there is no such record."""
    found: list[object] = []
    for part in (file, file.with_name(f"{file.name}-wal")):
        if part.exists():
            stat = part.stat()
            found += [stat.st_mtime_ns, stat.st_size]
    return tuple(found)
