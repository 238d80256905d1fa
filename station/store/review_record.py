"""What the review writes: corrections of several rows, and reps measured again, in one transaction each."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import insert, select

from station.store.record import Record, rep_columns
from station.store.rows import NewRep
from station.store.tables import corrections, reps


@dataclass(frozen=True, slots=True)
class Change:
    """One field of a set, a rep or a comment: what it is now, and what it is to be."""

    target_id: str
    field: str
    before: Any
    to: Any

    @property
    def back(self) -> Change:
        """The change that takes this one back."""
        return Change(self.target_id, self.field, self.to, self.before)


def write_changes(
    record: Record,
    changes: Sequence[Change],
    staff: str,
    why: str = "",
    new_reps: Sequence[Mapping[str, Any]] = (),
) -> dict[tuple[str, str], str]:
    """Write them down together, with the rows of reps that they speak of.

    Returns:
        By target and field the id of the correction, to be found again by `newest_corrections`.
    """
    record.look_at_ids()
    rows = [
        record.born()
        | {"target_id": c.target_id, "field": c.field, "value": {"to": c.to}, "staff": staff, "why": why}
        for c in changes
    ]
    with record.database.write("the correction") as connection:
        there = set(
            connection.execute(select(reps.c.id).where(reps.c.id.in_([r["id"] for r in new_reps]))).scalars()
        )
        fresh = [row for row in new_reps if row["id"] not in there]
        if fresh:
            connection.execute(insert(reps), fresh)
        if rows:
            connection.execute(insert(corrections), rows)
    return {(row["target_id"], row["field"]): row["id"] for row in rows}


def newest_corrections(record: Record, changes: Iterable[Change]) -> dict[tuple[str, str], tuple[str, str]]:
    """Of each target and field the newest correction: its id, and by whom."""
    c = corrections.c
    query = select(c.id, c.target_id, c.field, c.staff).order_by(c.id)
    query = query.where(c.target_id.in_({change.target_id for change in changes}))
    with record.database.read() as connection:
        rows = connection.execute(query).all()
    return {(row.target_id, row.field): (row.id, row.staff or "") for row in rows}


def rows_measured_again(
    record: Record, set_id: str, measured_by: str, found: Sequence[NewRep]
) -> list[dict[str, Any]]:
    """Rows of reps that a later engine measured.

    Their ids follow from the set, the engine and the place in the set: whoever accepts the same measurement at
    another desk makes the same rows, and no rep is there twice.
    """
    return [
        record.born()
        | {"id": str(uuid.uuid5(uuid.NAMESPACE_OID, f"{set_id}/{measured_by}/{place}"))}
        | {"set_id": set_id, "engine_version": measured_by, "curve": None}
        | rep_columns(rep)
        for place, rep in enumerate(found)
    ]
