"""The session log by pages: which sets a filter finds, newest first, and the rows of one page. Never all at once.

The record at hand is always SQLite.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, func, select, tuple_

from station.store.effective import MEASURED_AGAIN, UNCOUNTED_STATUS, corrected, effective_sets, set_row
from station.store.log_filter import LogFilter, newest_of_field, where
from station.store.review_tables import comments
from station.store.rows import SetRow
from station.store.tables import corrections, reps, sets

PAGE_SETS = 100
Place = tuple[date, str]


@dataclass(frozen=True, slots=True)
class LogIndex:
    """Where the pages of a filter begin, newest first, and how many sets there are in all."""

    asked: LogFilter
    starts: tuple[Place, ...]
    sets: int


@dataclass(frozen=True, slots=True)
class LogRow:
    """One set of the log.

    Attributes:
        velocities_m_s: of the reps that count, in order.
        struck, failed, unsure: how many reps were struck out, turned back, or carry no sure number.
        flags: of its reps, each once.
        corrected: fields of the set that are others now than they were written down.
        comments: how many stand beside it.
    """

    set: SetRow
    velocities_m_s: tuple[float, ...]
    struck: int
    failed: int
    unsure: int
    flags: tuple[str, ...]
    corrected: tuple[str, ...]
    comments: int


def log_index(connection: Connection, asked: LogFilter) -> LogIndex:
    """The pages of a filter; one pass over the index of days."""
    newest = (sets.c.day.desc(), sets.c.id.desc())
    place = func.row_number().over(order_by=newest).label("place")
    found = select(sets.c.day, sets.c.id, place).where(where(asked)).subquery()
    query = (
        select(found.c.day, found.c.id).where((found.c.place - 1) % PAGE_SETS == 0).order_by(found.c.place)
    )
    starts = tuple((row.day, row.id) for row in connection.execute(query))
    count = select(func.count()).select_from(sets).where(where(asked))
    return LogIndex(asked, starts, int(connection.execute(count).scalar_one()))


def log_page(connection: Connection, index: LogIndex, page: int) -> list[LogRow]:
    """The rows of one page, newest first; fewer than a page at the end, none beyond it."""
    if page >= len(index.starts):
        return []
    here = tuple_(sets.c.day, sets.c.id) <= tuple_(*index.starts[page])
    query = select(sets.c.id).where(where(index.asked), here).limit(PAGE_SETS)
    query = query.order_by(sets.c.day.desc(), sets.c.id.desc())
    return log_rows(connection, connection.execute(query).scalars().all())


def log_rows(connection: Connection, set_ids: Sequence[str]) -> list[LogRow]:
    """These sets as rows of the log, in this order; those that are gone are left out."""
    query = effective_sets().where(sets.c.id.in_(set_ids))
    stored = {row.id: row for row in connection.execute(query)}
    found = {key: set_row(row) for key, row in stored.items()}
    of_reps = _reps_of(connection, set_ids)
    fields = {key: _corrected_fields(row) for key, row in stored.items()}
    beside = _comments(connection, set_ids)
    return [
        _row(found[one], of_reps.get(one, []), fields.get(one, ()), beside.get(one, 0))
        for one in set_ids
        if one in found
    ]


def known_lifts(connection: Connection) -> list[str]:
    """Every lift that a set was ever called, by name."""
    named = select(sets.c.lift.label("lift")).distinct()
    moved = newest_of_field("lift")
    again = select(moved.c.value["to"].as_string().label("lift")).distinct()
    return sorted({row.lift for row in connection.execute(named.union(again)) if row.lift})


def known_racks(connection: Connection) -> list[str]:
    """Every rack that a set came from, by name."""
    return sorted(connection.execute(select(sets.c.rack).distinct()).scalars())


def _row(row: SetRow, own: Sequence[Any], fields: tuple[str, ...], beside: int) -> LogRow:
    kept = [rep for rep in own if not rep.struck]
    sure = [rep for rep in kept if rep.status not in UNCOUNTED_STATUS and rep.mean_velocity_m_s is not None]
    failed = sum(rep.status == "failed" for rep in kept)
    return LogRow(
        row,
        tuple(rep.mean_velocity_m_s for rep in sure),
        # What a later measurement took the place of is not struck out by anybody.
        sum(rep.struck and not rep.replaced for rep in own),
        failed,
        len(kept) - len(sure) - failed,
        tuple(dict.fromkeys(flag for rep in kept for flag in rep.flags)),
        fields,
        beside,
    )


@dataclass(frozen=True, slots=True)
class _Rep:
    status: str
    mean_velocity_m_s: float | None
    flags: tuple[str, ...]
    struck: bool
    replaced: bool


def _reps_of(connection: Connection, set_ids: Sequence[str]) -> dict[str, list[_Rep]]:
    """Of each set its reps in order, without their curves, which are most of a record."""
    r = reps.c
    columns = (r.id, r.set_id, r.status, r.mean_velocity_m_s, r.flags, r.engine_version)
    query = select(*columns).where(r.set_id.in_(set_ids)).order_by(r.number, r.id)
    rows = connection.execute(query).all()
    struck = _newest_of(connection, "struck", [row.id for row in rows])
    again = _newest_of(connection, MEASURED_AGAIN, set_ids)
    found: dict[str, list[_Rep]] = defaultdict(list)
    for row in rows:
        replaced = (row.engine_version or "") != (again.get(row.set_id) or "")
        is_struck = bool(struck.get(row.id, False))
        found[row.set_id].append(
            _Rep(row.status, row.mean_velocity_m_s, tuple(row.flags), is_struck, replaced)
        )
    return found


def _newest_of(connection: Connection, field: str, targets: Sequence[str]) -> dict[str, Any]:
    c = corrections.c
    query = select(c.target_id, c.value).where(c.field == field, c.target_id.in_(targets)).order_by(c.id)
    return {row.target_id: row.value["to"] for row in connection.execute(query)}


def _corrected_fields(row: Any) -> tuple[str, ...]:
    """Fields that are others now than they were written down: what was taken back is none of them."""
    was = {"full_effort": True, MEASURED_AGAIN: None}
    now = corrected(row)
    return tuple(name for name, to in now.items() if to != was.get(name, getattr(row, name, None)))


def _comments(connection: Connection, set_ids: Sequence[str]) -> dict[str, int]:
    query = select(comments.c.id, comments.c.set_id).where(comments.c.set_id.in_(set_ids))
    rows = connection.execute(query).all()
    gone = _newest_of(connection, "struck", [row.id for row in rows])
    found: dict[str, int] = defaultdict(int)
    for row in rows:
        found[row.set_id] += not gone.get(row.id, False)
    return found
