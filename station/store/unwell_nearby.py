"""How many entries of pain or illness are open, out of all records of this machine: a count, and nobody's answers.

For staff screens whose own record holds no check-ins: each file is read where it lies, and nothing is kept.
"""

from __future__ import annotations

import json
from collections import defaultdict
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import cast

from station.readiness.rules_adjusted import from_row
from station.squad.checkins import CheckIn, CheckInKind, Pain
from station.squad.entries import EntryDone, EntryEvent, closed_reasons
from station.store import roster
from station.store.checkins import newest_a_day
from station.store.nearby import rows_nearby, signature
from station.store.record import Record

LOOK_EVERY = timedelta(seconds=5)
_CHECK_INS = "SELECT id, athlete_id, day, kind, pains, ill FROM check_ins WHERE day >= ?"
_EVENTS = "SELECT id, athlete_id, day, event, staff, seen FROM entry_events WHERE day >= ?"
_RULES = "SELECT id, rules FROM squad_rules WHERE born_at >= ?"


class OpenUnwell:
    """Counts for one screen; reads again when a record of the machine has changed, every few seconds at most.

    Args:
        record: the screen's own, for who is a member.
    """

    def __init__(self, record: Record) -> None:
        self._record = record
        self._seen: tuple[object, ...] = ()
        self._looked_at: datetime | None = None
        self._count = 0

    def count(self, now: datetime) -> int:
        """Members with pain or illness said lately and not closed; as the squad day counts them.

        Args:
            now: local date and time.
        """
        if self._looked_at is not None and timedelta(0) <= now - self._looked_at < LOOK_EVERY:
            return self._count
        self._looked_at, day, folder = now, now.date(), self._record.database.folder
        seen = (day, signature(folder))
        if seen != self._seen:
            with self._record.database.read() as connection:
                members = {one.athlete.athlete_id for one in roster.roster(connection, day) if one.member}
            self._count = len(members & open_unwell(folder, day))
            self._seen = seen
        return self._count


def open_unwell(folder: Path, day: date) -> set[str]:
    """Who said pain or illness in the last days, by all records of the machine, and nobody has closed it.

    Args:
        folder: of any record of the machine.
    """
    rules = rows_nearby(folder, _RULES, "")
    since = day - timedelta(days=from_row(json.loads(rules[-1][1]) if rules else {}).open_days)
    said = [one for one in _check_ins(folder, since) if one.day <= day]
    events = _events(folder, since)
    return {
        one.athlete_id
        for one in newest_a_day(said).values()
        if set(one.unwell_keys) - closed_reasons(events[one.athlete_id])
    }


def _events(folder: Path, since: date) -> dict[str, list[EntryEvent]]:
    found: dict[str, list[EntryEvent]] = defaultdict(list)
    for _, athlete_id, when, event, staff, seen in rows_nearby(folder, _EVENTS, since.isoformat()):
        day = date.fromisoformat(when)
        at = datetime.combine(day, time(), UTC)  # of no account here
        found[athlete_id].append(
            EntryEvent(athlete_id, day, cast(EntryDone, event), staff, at, seen=tuple(json.loads(seen)))
        )
    return found


def _check_ins(folder: Path, since: date) -> list[CheckIn]:
    return [
        CheckIn(
            athlete_id,
            date.fromisoformat(when),
            CheckInKind(kind),
            {},
            tuple(Pain(region, side) for region, side in json.loads(pains)),
            bool(ill),
        )
        for _, athlete_id, when, kind, pains, ill in rows_nearby(folder, _CHECK_INS, since.isoformat())
    ]
