"""The record of one rack: what is written while people lift, durable before it is painted.

Nothing here edits: a correction is a new row with who, when and why, and taking one back is another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import Table, insert, select

from station.squad.athletes import Athlete
from station.squad.sets import SetObservation
from station.store import (
    effective,
    outbox,
    rack_tables,
    review_tables,
    roster,
    share_tables,
    squad_tables,
    tables,
)
from station.store.database import Database
from station.store.erasure import catch_up
from station.store.ids import IdClock, greatest_ids
from station.store.rows import NewRep, NewSet, RepRow, SetRow

_of_others = (rack_tables.equipment, squad_tables.jumps, share_tables.erasures, review_tables.comments)
assert {table.metadata for table in _of_others} == {tables.metadata}, "all tables belong to one record"
# Every table whose rows carry ids made here or at another rack, parents first.
ROW_TABLES = tuple(table.name for table in tables.metadata.sorted_tables if "id" in table.c)
# Which sensor a rack claimed says nothing to others: names of sensors are kept by machine.
SHARED_TABLES = tuple(name for name in ROW_TABLES if name != tables.claims.name)

# Three idle hours begin a new session.
SESSION_GAP = timedelta(hours=3)


class Record:
    """Reads and writes one data folder's record."""

    def __init__(self, folder: Path, rack: str, now: Callable[[], datetime]) -> None:
        """Open the record in `folder`; `now` gives the UTC instant that new records are born at.

        Raises:
            StoreError: the folder or the file cannot be used; the message says what to do.
        """
        self.database = Database(folder)
        self.rack = rack
        self._now = now
        self._ids = IdClock(lambda: int(now().timestamp() * 1000))
        self.look_at_ids()
        outbox.watch_again(self.database, SHARED_TABLES)
        catch_up(self)

    def close(self) -> None:
        """Close the record and give the folder free."""
        self.database.close()

    def look_at_ids(self) -> None:
        """Ids made from now on are greater than all that are here; to be asked when rows came from elsewhere."""
        with self.database.read() as connection:
            for greatest in greatest_ids(connection, ROW_TABLES):
                self._ids.saw(greatest)

    def _look_at(self, table_name: str) -> None:
        """What is written next to a table is newer than all that is there, an exchange's rows of just now too."""
        with self.database.read() as connection:
            for greatest in greatest_ids(connection, [table_name]):
                self._ids.saw(greatest)

    # -- writing ---------------------------------------------------------------------------------------------

    def born(self) -> dict[str, Any]:
        """Id, instant and place of a row that is made now."""
        return self._born()

    def _born(self, born_at: datetime | None = None) -> dict[str, Any]:
        return {"id": self._ids.new(), "born_at": born_at or self._now(), "rack": self.rack}

    def add_athletes(self, athletes: Iterable[Athlete]) -> None:
        """Athletes join the squad under the ids they bring."""
        rows = [
            self._born()
            | {"id": a.athlete_id, "name": a.name, "shirt_number": a.shirt_number}
            | {"group_name": a.group, "status": a.status.value}
            for a in athletes
        ]
        with self.database.write("the athletes") as connection:
            connection.execute(insert(tables.athletes), rows)

    def add_rows(self, table_name: str, rows: Iterable[Mapping[str, Any]]) -> None:
        """Many plain rows at once (plans, matches, imported sets and reps); ids are made where they lack one."""
        table = tables.metadata.tables[table_name]
        self._look_at(table_name)
        complete = [self._born() | dict(row) for row in rows]
        for row in complete:
            self._ids.saw(row["id"])
        # SQLAlchemy takes the columns of all rows from the first: a column only a later row has would be lost.
        named = {name for row in complete for name in row}
        if complete:
            with self.database.write(f"the {table_name}") as connection:
                connection.execute(insert(table), [_filled(table, named) | row for row in complete])

    def begin_set(self, new: NewSet) -> str:
        """A set begins; its id."""
        row = self._born() | asdict(new)
        with self.database.write("the set") as connection:
            connection.execute(insert(tables.sets), row)
        return str(row["id"])

    def add_rep(self, set_id: str, rep: NewRep) -> str:
        """One rep, on the disk when this returns; its id."""
        row = self._born() | {"set_id": set_id} | rep_columns(rep)
        with self.database.write(f"rep {rep.number}") as connection:
            connection.execute(insert(tables.reps), row)
        return str(row["id"])

    def end_set(self, set_id: str, reason: str) -> None:
        """The set is over."""
        with self.database.write("the end of the set") as connection:
            connection.execute(insert(tables.set_ends), self._born() | {"set_id": set_id, "reason": reason})

    def correct(self, target_id: str, field: str, value: Any, staff: str | None, why: str = "") -> None:
        """A correction of one field of a set or a rep, with who and why; the newest one holds."""
        row = {"target_id": target_id, "field": field, "value": {"to": value}, "staff": staff, "why": why}
        self._look_at(tables.corrections.name)
        with self.database.write("the correction") as connection:
            connection.execute(insert(tables.corrections), self._born() | row)

    def decide(self, set_id: str, decision: Mapping[str, Any]) -> None:
        """What the coach decided about a suggestion."""
        with self.database.write("the decision") as connection:
            connection.execute(insert(tables.decisions), self._born() | {"set_id": set_id} | dict(decision))

    def claim_sensor(self, sensor: str, address: str) -> None:
        """This sensor belongs to this rack from now on."""
        with self.database.write("the sensor's rack") as connection:
            connection.execute(insert(tables.claims), self._born() | {"sensor": sensor, "address": address})

    def add_raw_file(self, set_id: str, file: str, samples: int, sha256: str) -> None:
        """Where a set's raw samples lie, and their checksum."""
        row = {"set_id": set_id, "file": file, "samples": samples, "sha256": sha256}
        with self.database.write("the raw samples") as connection:
            connection.execute(insert(tables.raw_files), self._born() | row)

    # -- reading ---------------------------------------------------------------------------------------------

    def athletes(self, day: date | None = None) -> list[Athlete]:
        """The squad as of a day (today), by name; those who left are not in it."""
        with self.database.read() as connection:
            lines = roster.roster(connection, day or self._local_day())
        return [line.athlete for line in lines if line.member]

    def plans(self, day: date | None = None) -> list[dict[str, Any]]:
        """The plan of each athlete and lift as of a day (today): the athlete's own, else the group's."""
        with self.database.read() as connection:
            return roster.plans_on(connection, day or self._local_day())

    def _local_day(self) -> date:
        return self._now().astimezone().date()

    def staff_names(self) -> list[str]:
        """Who may sign in, by name."""
        with self.database.read() as connection:
            return sorted(set(connection.execute(select(tables.staff.c.name)).scalars()))

    def matches(self) -> list[date]:
        """Match days, in order."""
        with self.database.read() as connection:
            return roster.match_dates(connection)

    def claimed_sensor(self) -> tuple[str, str] | None:
        """Name and address of the sensor this rack claimed last."""
        t = tables.claims
        query = select(t.c.sensor, t.c.address).where(t.c.rack == self.rack).order_by(t.c.id.desc()).limit(1)
        with self.database.read() as connection:
            row = connection.execute(query).first()
        return (row.sensor, row.address) if row else None

    def observations(self, athlete_id: str, lift: str, but_not: str | None = None) -> list[SetObservation]:
        """The athlete's sets of a lift as the statistics see them, in order of time, but for one set."""
        with self.database.read() as connection:
            return effective.observations(connection, athlete_id, lift, but_not)

    def sets_on(self, day: date) -> list[SetRow]:
        """All sets of a day at this rack, oldest first."""
        with self.database.read() as connection:
            return effective.sets_on(connection, day, self.rack)

    def has_set(self, set_id: str) -> bool:
        """Whether the record knows this set."""
        query = select(tables.sets.c.id).where(tables.sets.c.id == set_id)
        with self.database.read() as connection:
            return connection.execute(query).first() is not None

    def unended_set(self, day: date) -> SetRow | None:
        """The last set of the day at this rack when it never ended: a power cut came first."""
        today = self.sets_on(day)
        if not today:
            return None
        query = select(tables.set_ends.c.id).where(tables.set_ends.c.set_id == today[-1].set_id)
        with self.database.read() as connection:
            ended = connection.execute(query).first() is not None
        return None if ended else today[-1]

    def reps_of(self, set_id: str) -> list[RepRow]:
        """The reps of one set as they stand now."""
        with self.database.read() as connection:
            return effective.reps_that_hold(connection, set_id)

    def session_now(self, day: date) -> int:
        """The number of the session a set begun now belongs to."""
        today = self.sets_on(day)
        if not today:
            return 1
        last = today[-1]
        return last.session + (1 if self._now() - last.born_at > SESSION_GAP else 0)


def _filled(table: Table, named: Iterable[str]) -> dict[str, Any]:
    """What a column holds that some rows name and others do not: its default, else nothing."""
    defaults = {name: table.c[name].default for name in named if name in table.c}
    return {name: getattr(default, "arg", None) for name, default in defaults.items()}


def rep_columns(rep: NewRep) -> dict[str, Any]:
    """A rep's own columns."""
    row = {name: getattr(rep, name) for name in NewRep.__slots__ if not name.startswith("curve")}
    row["flags"] = list(rep.flags)
    if rep.curve_time_s is not None and rep.curve_m_s is not None:
        row["curve"] = np.column_stack([rep.curve_time_s, rep.curve_m_s]).astype("<f4").tobytes()
    return row
