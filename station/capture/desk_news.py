"""What the desk has changed of squad, plans, calendar and sets: taken over by a rack while it runs, between sets."""

from __future__ import annotations

from typing import Any

from station.capture.rack_setup import RackSetup, setup_from_record
from station.store import roster
from station.store.nearby import RACK_TABLES, neighbours, take_over
from station.store.record import Record


class DeskNews:
    """Called now and then with the rack's setup; gives a new one when something in it is no longer so.

    Args:
        record: the rack's own, which takes the desk's rows over.
        data_note: as for `setup_from_record`.
    """

    def __init__(self, record: Record, data_note: str = "") -> None:
        self._record, self._data_note = record, data_note
        self._neighbours: tuple[tuple[str, int], ...] = ()
        self._calendar = self._calendar_now()
        self._corrected = False

    def __call__(self, now: RackSetup) -> RackSetup | None:
        """The setup as the record has it now, or None while it is the same."""
        self.take_over()
        calendar = self._calendar_now()
        fresh = setup_from_record(self._record, self._data_note)
        same = calendar == self._calendar and not self._corrected
        if same and _told(fresh) == _told(now):
            return None
        self._calendar, self._corrected = calendar, False
        return fresh

    def take_over(self) -> None:
        """Rows that the other programs of this machine have written since the last look."""
        files = neighbours(self._record.database.folder)
        parts = [
            part for file in files for part in (file, file.with_name(f"{file.name}-wal")) if part.exists()
        ]
        seen = tuple((str(part), part.stat().st_mtime_ns) for part in parts)
        if seen != self._neighbours:
            before = self._newest_correction()
            take_over(self._record, RACK_TABLES)
            self._corrected = self._corrected or self._newest_correction() != before
            self._neighbours = seen

    def _newest_correction(self) -> int:
        with self._record.database.read() as connection:
            query = "SELECT coalesce(max(_rowid_), 0) FROM corrections"
            return int(connection.exec_driver_sql(query).scalar_one())

    def _calendar_now(self) -> tuple[Any, Any]:
        with self._record.database.read() as connection:
            return roster.match_dates(connection), roster.played_days(connection)


def _told(setup: RackSetup) -> tuple[Any, ...]:
    """What the desk may change of it."""
    everybody = tuple(sorted(setup.squad, key=lambda a: a.athlete_id))
    return setup.group, everybody, setup.plans, setup.staff, set(setup.pin_needed), set(setup.badges)
