"""The whole squad's sets kept in memory: after the first time only what was written since is read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, Connection, Integer, Table, func, literal_column, select

from station.squad.sets import SetObservation
from station.store.squad_reading import read_observations
from station.store.tables import corrections, reps, sets

AthleteLift = tuple[str, str]
# Of more new sets than this at once everything is read again: so many ids in one question are slower.
MOST_CHANGED = 300


@dataclass(frozen=True, slots=True)
class _Mark:
    """How far one table was read: its last row, and how many there were."""

    rowid: int
    id: str
    count: int


class KeptObservations:
    """Observations by athlete and lift. Rows are never edited: what a set says changes only with a new row of its
    own, a rep or a correction. Only an erasure deletes; then, and on another first day, everything is read again.
    """

    def __init__(self) -> None:
        self._marks: dict[str, _Mark] = {}
        self._first_day: date | None = None
        self._by_set: dict[str, SetObservation] = {}
        self._ids: dict[AthleteLift, set[str]] = defaultdict(set)
        self._grouped: dict[AthleteLift, tuple[SetObservation, ...]] = {}

    def read(
        self, connection: Connection, first_day: date
    ) -> Mapping[AthleteLift, tuple[SetObservation, ...]]:
        """Each athlete's observations of a lift from a day on, in order of time.

        A tuple stays the same object as long as nothing in it has changed.
        """
        # Marks first: what comes in while the rest is read is read again the next time.
        marks = {table.name: _mark(connection, table) for table in (sets, reps, corrections)}
        changed = self._changed(connection, marks) if first_day == self._first_day else None
        if changed is None or len(changed) > MOST_CHANGED:
            self._start_over(read_observations(connection, first_day))
        elif changed:
            self._take(changed, read_observations(connection, first_day, changed))
        self._marks, self._first_day = marks, first_day
        return self._grouped

    def _changed(self, connection: Connection, marks: Mapping[str, _Mark]) -> set[str] | None:
        """The sets of which something new was written; None when rows are gone."""
        for table in (sets, reps, corrections):
            if not _only_grown(connection, table, self._marks[table.name], marks[table.name]):
                return None
        new_sets, new_reps, corrected = (
            set(
                connection.execute(
                    select(column).where(_rowid(table) > self._marks[table.name].rowid)
                ).scalars()
            )
            for table, column in (
                (sets, sets.c.id),
                (reps, reps.c.set_id),
                (corrections, corrections.c.target_id),
            )
        )
        if len(corrected) > MOST_CHANGED:
            return None
        of_reps = connection.execute(select(reps.c.set_id).where(reps.c.id.in_(corrected))).scalars()
        return new_sets | new_reps | corrected | set(of_reps)

    def _start_over(self, found: Mapping[str, SetObservation]) -> None:
        self._by_set, self._grouped = {}, {}
        self._ids.clear()
        self._take(found, found)

    def _take(self, changed: Iterable[str], found: Mapping[str, SetObservation]) -> None:
        touched = set()
        for set_id in changed:
            before, now = self._by_set.pop(set_id, None), found.get(set_id)
            if before is not None:
                self._ids[_key(before)].discard(set_id)
                touched.add(_key(before))
            if now is not None:
                self._by_set[set_id] = now
                self._ids[_key(now)].add(set_id)
                touched.add(_key(now))
        for key in touched:
            own = tuple(self._by_set[set_id] for set_id in sorted(self._ids[key]))
            if not own:
                del self._ids[key]
                self._grouped.pop(key, None)
            elif own != self._grouped.get(key):
                self._grouped[key] = own


def _key(one: SetObservation) -> AthleteLift:
    return (one.athlete_id, one.lift)


def _rowid(table: Table) -> ColumnElement[int]:
    # SQLite's own count of rows, which grows with every one that is written or taken over, whatever its id.
    return literal_column(f"{table.name}._rowid_", Integer)


def _mark(connection: Connection, table: Table) -> _Mark:
    count = select(func.count()).select_from(table.alias()).scalar_subquery()
    query = select(_rowid(table), table.c.id, count).order_by(_rowid(table).desc()).limit(1)
    row = connection.execute(query).first()
    return _Mark(0, "", 0) if row is None else _Mark(*row)


def _only_grown(connection: Connection, table: Table, before: _Mark, now: _Mark) -> bool:
    """Whether every row that was there is there still: SQLite may give the number of a deleted last row again."""
    new = select(func.count()).select_from(table)
    new = new.where(_rowid(table) > before.rowid, _rowid(table) <= now.rowid)
    last = connection.execute(select(table.c.id).where(_rowid(table) == before.rowid)).scalar_one_or_none()
    return (last or "") == before.id and now.count - before.count == connection.execute(new).scalar_one()
