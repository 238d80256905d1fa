"""Erasures on their way between racks and desk.

A rack may delete nothing in the shared database, so what was erased at a rack's machine is asked for there, and
staff's desk carries it out at its next turn: whoever erased it has said so, and been asked, at that machine. From
there it goes to everybody like an erasure made at the desk. What was asked for is gone with the athlete's rows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, select, text

from station.store.erased_ledger import Erasure, write_ledger
from station.store.erasure import add_erasures, erased_ids, forget_raw
from station.store.share_tables import erasure_asks, erasures
from station.store.tables import new_id


def erasure_of(row: Mapping[str, Any]) -> Erasure:
    """A row of the table `erasures` as a value."""
    return Erasure(row["id"], row["athlete_id"], row["day"])


def asks_of(rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> dict[str, list[dict[str, Any]]]:
    """Rows of `erasures` as what a rack asks for; {} without any."""
    asked = [{"athlete_id": row["athlete_id"], "day": row["day"]} for row in rows.get(erasures.name, ())]
    return {erasure_asks.name: asked} if asked else {}


def carry_out_asks(server: Engine, local: Engine, folder: Path) -> int:
    """Erase in the desk's record what racks have asked for; how many athletes. It is handed on from here.

    Args:
        folder: the record's.
    """
    with server.begin() as there:
        asked = there.execute(select(erasure_asks)).all()
    if not asked:
        return 0
    with local.connect() as here:
        known = erased_ids(here)
    new = [Erasure(new_id(), row.athlete_id, row.day) for row in asked if row.athlete_id not in known]
    if not new:
        return 0
    write_ledger(folder.parent, new)
    with local.begin() as here:
        here.execute(text("PRAGMA secure_delete = ON"))
        gone = add_erasures(here, new)
    forget_raw(folder, gone.set_ids)
    return len(new)
