"""Correcting several sets at once: the bar held 62.5 kg for three sets, said once, for all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from station.capture.rack_view import SetField
from station.squad.lifts import lift_named
from station.squad.sets import same_load
from station.store.rows import SetRow

Rows = list[dict[str, Any]]


def concerned(rows: Sequence[SetRow], field: SetField) -> list[SetRow]:
    """Of a set and those after it, the ones with the same mistake.

    A wrong load or lift concerns the sets written down with that load or lift; another load was loaded anew. A wrong
    bar concerns all.
    """
    if not rows:
        return []
    first = rows[0]
    if field == "load_kg":
        return [row for row in rows if same_load(row.load_kg, first.load_kg)]
    return [row for row in rows if field == "bar_kg" or row.lift == first.lift]


def corrections_for(
    rows: Sequence[SetRow], field: SetField, value: float | str, usual_bar_kg: float
) -> tuple[Rows, Rows]:
    """Rows for the table of corrections: those that correct, and those that take them back.

    Args:
        rows: the first wrong set and all after it.
        value: the load or bar, kg, or the lift.
        usual_bar_kg: for sets that do not say which bar.

    Raises:
        UnknownLift: no such lift.
    """
    there: Rows = []
    back: Rows = []
    for row in concerned(rows, field):
        for name, new, old in _changes(row, field, value, usual_bar_kg):
            there.append({"target_id": row.set_id, "field": name, "value": {"to": new}})
            back.append({"target_id": row.set_id, "field": name, "value": {"to": old}})
    return there, back


def _changes(
    row: SetRow, field: SetField, value: float | str, usual_bar_kg: float
) -> list[tuple[str, float | str, float | str | None]]:
    if field == "lift":
        return [("lift", lift_named(str(value)).name, row.lift)]
    if field == "load_kg":
        return [("load_kg", float(value), row.load_kg)]
    heavier = float(value) - (row.bar_kg if row.bar_kg is not None else usual_bar_kg)
    return [("bar_kg", float(value), row.bar_kg), ("load_kg", row.load_kg + heavier, row.load_kg)]
