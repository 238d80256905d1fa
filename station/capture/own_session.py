"""Which session of the day it is for one athlete: three hours without an own set begin another, also while others
used the rack."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from station.squad.sets import OWN_PAUSE
from station.store import effective
from station.store.record import Record


@dataclass(frozen=True, slots=True)
class OwnSession:
    """One athlete's session that is now.

    Attributes:
        number: within the day.
        set_ids: the sets of it so far, at any rack.
    """

    number: int
    set_ids: frozenset[str]


def own_session(record: Record, athlete_id: str, day: date, rack_number: int) -> OwnSession:
    """The session a set of this athlete that began now would belong to.

    Args:
        rack_number: the rack's own count, for who has not lifted yet today.
    """
    with record.database.read() as connection:
        rows = effective.own_sessions(
            [row for row in effective.sets_of(connection, athlete_id) if row.day == day]
        )
    if not rows:
        return OwnSession(rack_number, frozenset())
    last = rows[-1]
    if record.born()["born_at"] - last.born_at > OWN_PAUSE:
        return OwnSession(last.session + 1, frozenset())
    return OwnSession(last.session, frozenset(row.set_id for row in rows if row.session == last.session))
