"""What staff did about the entries of the day's list, by whom and when; the figures behind it; who staff are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from station.squad.entries import EntryDone, EntryEvent
from station.store.record import Record
from station.store.squad_tables import entry_events, squad_rules
from station.store.tables import staff as staff_table

MEDICAL = "medical"


def add_entry_event(
    record: Record,
    athlete_id: str,
    day: date,
    event: EntryDone,
    staff: str,
    seen: Sequence[str],
    outcome: str = "",
    medical_note: str = "",
) -> None:
    """An entry was taken, closed or opened again."""
    row = {"athlete_id": athlete_id, "day": day, "event": event, "staff": staff, "seen": list(seen)}
    record.add_rows("entry_events", [row | {"outcome": outcome, "medical_note": medical_note}])


def entry_events_since(connection: Connection, first_day: date) -> dict[str, list[EntryEvent]]:
    """By athlete, in order of writing."""
    t = entry_events
    found: dict[str, list[EntryEvent]] = defaultdict(list)
    for r in connection.execute(select(t).where(t.c.day >= first_day).order_by(t.c.id)):
        found[r.athlete_id].append(
            EntryEvent(
                r.athlete_id,
                r.day,
                r.event,
                r.staff,
                r.born_at,
                r.outcome,
                r.medical_note,
                tuple(r.seen),
            )
        )
    return dict(found)


def staff_roles(connection: Connection) -> dict[str, str]:
    """Role by name; "medical" reads where it hurts, "" is any other member of staff. The newest row holds."""
    rows = connection.execute(select(staff_table.c.name, staff_table.c.role).order_by(staff_table.c.id))
    return dict(sorted({r.name: r.role for r in rows}.items()))


def keep_rules(record: Record, rules: dict[str, Any], staff: str) -> None:
    """The figures behind the list from now on, as plain values."""
    record.add_rows("squad_rules", [{"rules": rules, "staff": staff}])


def newest_rules(connection: Connection) -> dict[str, Any] | None:
    """The figures behind the list as plain values; None while nobody has changed any."""
    t = squad_rules.c
    found = connection.execute(select(t.rules).order_by(t.id.desc()).limit(1)).scalar()
    return dict(found) if found is not None else None
