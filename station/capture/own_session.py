"""Which session of the day it is for one athlete: three hours without an own set begin another, also while others
used the rack."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from station.squad.sets import OWN_PAUSE
from station.store import effective
from station.store.record import Record
from station.store.rows import SetRow


@dataclass(frozen=True, slots=True)
class OwnSession:
    """One athlete's session that is now.

    Attributes:
        number: within the day.
        rows: the sets of it so far, of all lifts, at any rack.
    """

    number: int
    rows: tuple[SetRow, ...] = ()

    @property
    def set_ids(self) -> frozenset[str]:
        """The ids of its sets."""
        return frozenset(row.set_id for row in self.rows)


def own_session(record: Record, athlete_id: str, day: date, rack_number: int) -> OwnSession:
    """The session a set of this athlete that began now would belong to.

    Args:
        rack_number: the rack's own count, for who has not lifted yet today.
    """
    with record.database.read() as connection:
        today = [row for row in effective.sets_on(connection, day) if row.athlete_id == athlete_id]
    rows = effective.own_sessions(today)
    if not rows:
        return OwnSession(rack_number)
    last = rows[-1]
    if record.born()["born_at"] - last.born_at > OWN_PAUSE:
        return OwnSession(last.session + 1)
    return OwnSession(last.session, tuple(row for row in rows if row.session == last.session))
