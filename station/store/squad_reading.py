"""The whole squad's sets in two queries, for the list of a day: as they stand now, corrections included."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import Any

from sqlalchemy import Connection, func, select

from station.squad.sets import SetObservation
from station.store.effective import UNCOUNTED_STATUS
from station.store.tables import corrections, reps, sets


def all_observations(connection: Connection, first_day: date) -> list[SetObservation]:
    """One observation a named set from a day on, in order of time: its fastest counted rep."""
    corrected = _corrections(connection)
    struck = {target for target, own in corrected.items() if own.get("struck")}
    fastest = func.max(reps.c.mean_velocity_m_s)
    query = (
        select(sets, fastest.label("fastest"), reps.c.displacement_m.label("displacement_m"))
        .join(reps, reps.c.set_id == sets.c.id)
        .where(sets.c.day >= first_day, reps.c.status.not_in(UNCOUNTED_STATUS))
        .where(reps.c.mean_velocity_m_s.is_not(None), reps.c.id.not_in(struck))
        .group_by(sets.c.id)  # SQLite: the other columns are those of the row with the maximum
        .order_by(sets.c.id)
    )
    found = []
    for r in connection.execute(query):
        own = corrected.get(r.id, {})
        athlete_id = own.get("athlete_id", r.athlete_id)
        if athlete_id is not None:
            found.append(
                SetObservation(
                    athlete_id,
                    r.day,
                    own.get("lift", r.lift),
                    own.get("load_kg", r.load_kg),
                    r.fastest,
                    r.session,
                    r.displacement_m,
                    f"{r.sensor}|{r.bar_kg or ''}",
                    own.get("full_effort", True),
                )
            )
    return found


def newest_rows(connection: Connection) -> str:
    """Changes with every set, rep and correction: what was computed from them holds while this does not change."""
    parts = [
        connection.exec_driver_sql(f"SELECT max(_rowid_) FROM {table.name}").scalar_one_or_none() or 0
        for table in (sets, reps, corrections)
    ]
    return "/".join(map(str, parts))


def _corrections(connection: Connection) -> dict[str, dict[str, Any]]:
    c = corrections.c
    found: dict[str, dict[str, Any]] = defaultdict(dict)
    for r in connection.execute(select(c.target_id, c.field, c.value).order_by(c.id)):
        found[r.target_id][r.field] = r.value["to"]
    return found
