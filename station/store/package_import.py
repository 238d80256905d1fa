"""What `export` wrote, taken into a record: by the ids it bears, so that it can be done again without harm.

The rows stand as they stood when they were handed on, corrections applied; a struck rep is struck by a correction, as
is a set without full effort. What the record has already is left as it is there, and of erased athletes nothing is
taken. Velocity curves and plates are not handed on and do not come back; sessions follow from their sets.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
from sqlalchemy import select

from drivers.samples import SampleBlock
from station.squad.checkins import ITEM_KEYS, SIDED_REGIONS, Pain
from station.store.effective import MEASURED_AGAIN
from station.store.erasure import erased_ids
from station.store.journal import write_part
from station.store.many_rows import add_together
from station.store.package_read import Part, batches_of, open_package, rows_of
from station.store.raw_files import FOLDER
from station.store.record import Record
from station.store.tables import metadata

PLACE = "import"
_WHY = "as it was handed on"
_LONG_AGO = date(1900, 1, 1)
Row = dict[str, Any]
_OF_A_REP = (
    *("set_id", "number", "status", "start_time_s", "end_time_s", "decided_time_s", "mean_velocity_m_s"),
    *(
        "mean_propulsive_velocity_m_s",
        "peak_velocity_m_s",
        "displacement_m",
        "uncertainty_m_s",
        "engine_version",
    ),
)


@dataclass(slots=True)
class Taken:
    """What came in and what did not, by table."""

    new: Counter[str] = field(default_factory=Counter)
    known: Counter[str] = field(default_factory=Counter)
    erased: Counter[str] = field(default_factory=Counter)
    orphans: Counter[str] = field(default_factory=Counter)


def import_package(record: Record, path: Path) -> Taken:
    """Take a package in, all of it or nothing; raw samples last.

    Raises:
        PackageUnreadable: nothing was taken.
        WriteFailed: nothing was kept.
    """
    parts = open_package(path)
    taking = _Taking(record, parts)
    rows = taking.rows()
    add_together(record, "the package", rows)
    if "raw" in parts:
        taking.raw(parts["raw"])
    return taking.taken


class _Taking:
    def __init__(self, record: Record, parts: dict[str, Part]) -> None:
        self._record, self._parts, self.taken = record, parts, Taken()
        with record.database.read() as connection:
            self._gone = erased_ids(connection)
            self._here = {
                name: set(connection.execute(select(metadata.tables[name].c.id)).scalars())
                for name in ("athletes", "sets", "reps", "jumps", "check_ins")
            }
        self._names: dict[str, str] = {}
        self._racks: dict[str, str] = {}
        self._comments: list[Row] = []
        self._corrections: list[Row] = []
        self._again: dict[str, str] = {}

    def rows(self) -> dict[str, list[Row]]:
        """New rows by table of the record, parents first."""
        known_people = self._athletes() if "athletes" in self._parts else ([], [])
        sets = list(self._new("sets", "set_id", "sets", self._set))
        here = self._here["sets"] | {row["id"] for row in sets}
        reps = list(self._new("reps", "rep_id", "reps", self._rep, here))
        jumps = list(self._new("jumps", "jump_id", "jumps", _jump))
        check_ins = list(self._new("checkins", "checkin_id", "check_ins", _check_in))
        people = known_people[0] + self._people({row["id"] for row in known_people[0]})
        return {
            "athletes": people,
            "roster_changes": known_people[1],
            "sets": sets,
            "reps": reps,
            "jumps": jumps,
            "check_ins": check_ins,
            "comments": self._comments,
            "corrections": self._corrections,
        }

    def _new(
        self,
        sheet: str,
        key: str,
        table: str,
        as_row: Callable[[Row], Row],
        parents: set[str] | None = None,
    ) -> Iterator[Row]:
        """The rows of a table that are not here yet, belong to nobody erased, and whose set is here."""
        for row in rows_of(self._parts[sheet]) if sheet in self._parts else ():
            if row["athlete_id"] in self._gone:
                self.taken.erased[sheet] += 1
            elif row[key] in self._here[table]:
                self.taken.known[sheet] += 1
            elif parents is not None and row["set_id"] not in parents:
                self.taken.orphans[sheet] += 1
            else:
                self.taken.new[sheet] += 1
                if row["athlete_id"] is not None:
                    self._names[row["athlete_id"]] = row["athlete_name"] or "no name"
                yield {"id": row[key], "born_at": row["born_at"], "rack": row.get("rack") or PLACE} | as_row(
                    row
                )

    # -- people ----------------------------------------------------------------------------------------------

    def _athletes(self) -> tuple[list[Row], list[Row]]:
        """Those who are new, and that some of them have left."""
        new, left = [], []
        for row in rows_of(self._parts["athletes"]):
            if row["athlete_id"] in self._gone:
                self.taken.erased["athletes"] += 1
            elif row["athlete_id"] in self._here["athletes"]:
                self.taken.known["athletes"] += 1
            else:
                self.taken.new["athletes"] += 1
                more = {"shirt_number": row["shirt_number"], "group_name": row["group_name"] or ""}
                new.append(self._athlete(row["athlete_id"], row["athlete_name"]) | more)
                if not row["member"]:
                    change = {"athlete_id": row["athlete_id"], "field": "member", "value": {"to": False}}
                    left.append(self._born() | change | {"from_day": _LONG_AGO, "staff": ""})
        return new, left

    def _people(self, told: set[str]) -> list[Row]:
        """Those whom the record does not know, by the name beside their rows."""
        unknown = self._names.keys() - self._here["athletes"] - told
        return [self._athlete(key, self._names[key]) for key in sorted(unknown)]

    def _athlete(self, key: str, name: str) -> Row:
        plain = {"name": name, "shirt_number": None, "group_name": "", "status": "full"}
        return self._born() | {"id": key} | plain

    def _born(self) -> Row:
        return self._record.born() | {"rack": PLACE}

    # -- sets and reps ---------------------------------------------------------------------------------------

    def _set(self, row: Row) -> Row:
        self._racks[row["set_id"]] = row["rack"]
        for words in row["comments"].split(" | ") if row["comments"] else ():
            self._comments.append(self._born() | {"set_id": row["set_id"], "words": words, "staff": ""})
        if not row["full_effort"]:
            self._correct(row["set_id"], "full_effort", value=False)
        same = ("athlete_id", "name_confirmed", "day", "session", "lift", "load_kg", "kind", "bar_kg")
        return (
            {name: row[name] for name in same}
            | _source(row)
            | {"usual_range_of_motion_m": row["usual_range_of_motion_m"]}
        )

    def _rep(self, row: Row) -> Row:
        if row["struck"]:
            self._correct(row["rep_id"], "struck", value=True)
        elif row["engine_version"] and row["set_id"] not in self._again:
            self._again[row["set_id"]] = row["engine_version"]
            self._correct(row["set_id"], MEASURED_AGAIN, value=row["engine_version"])
        more = {
            "rack": self._racks.get(row["set_id"], PLACE),
            "flags": _listed(row["flags"]),
            "why": row["why"] or "",
        }
        return {name: row[name] for name in _OF_A_REP} | more

    def _correct(self, target: str, name: str, *, value: bool | str) -> None:
        plain = {"target_id": target, "field": name, "value": {"to": value}, "staff": None, "why": _WHY}
        self._corrections.append(self._born() | plain)

    # -- raw samples -----------------------------------------------------------------------------------------

    def raw(self, part: Part) -> None:
        """A file a set and part, where the set is here and has none of that name yet."""
        folder = self._record.database.folder / FOLDER
        folder.mkdir(parents=True, exist_ok=True)
        with self._record.database.read() as connection:
            files = metadata.tables["raw_files"]
            known = set(connection.execute(select(files.c.file)).scalars())
        for (set_id, number), block in _blocks(batches_of(part)):
            name = f"{set_id}_{number}.parquet"
            if not self._record.has_set(set_id):
                self.taken.orphans["raw"] += 1
            elif name in known:
                self.taken.known["raw"] += 1
            else:
                kept = write_part(folder, set_id, number, block)
                self._record.add_raw_file(set_id, kept.file, kept.samples, kept.sha256)
                self.taken.new["raw"] += 1


def _blocks(batches: Iterable[pa.RecordBatch]) -> Iterator[tuple[tuple[str, int], SampleBlock]]:
    """Samples of one set and part together; they come one after the other."""

    def pieces() -> Iterator[tuple[tuple[str, int], pa.RecordBatch]]:
        for batch in batches:
            if not batch.num_rows:
                continue
            whose = list(zip(batch["set_id"].to_pylist(), batch["part"].to_pylist(), strict=True))
            first = 0
            for key, same in groupby(whose):
                count = len(list(same))
                yield key, batch.slice(first, count)
                first += count

    for key, some in groupby(pieces(), key=lambda one: one[0]):
        yield key, _block(pa.Table.from_batches([piece for _, piece in some]))


def _block(table: pa.Table) -> SampleBlock:
    def axes(kind: str, unit: str) -> np.ndarray | None:
        columns = [table[f"{kind}_{axis}_{unit}"] for axis in "xyz"]
        if columns[0].null_count == len(table):
            return None
        return np.column_stack([column.to_numpy() for column in columns])

    own = table["device_time_s"]
    acc = axes("acc", "m_s2")
    assert acc is not None, "the schema requires it"
    return SampleBlock(
        table["seq"].to_numpy(),
        table["host_time_s"].to_numpy(),
        acc,
        axes("gyr", "rad_s"),
        None if own.null_count == len(table) else own.to_numpy(),
    )


def _jump(row: Row) -> Row:
    same = (
        *("athlete_id", "day", "height_m", "from_flight_m", "from_impulse_m", "uncertainty_m", "depth_m"),
        *("time_to_takeoff_s", "flight_time_s", "valid"),
    )
    plain = {
        "name_confirmed": row["athlete_id"] is not None,
        "flags": _listed(row["flags"]),
        "why": row["why"] or "",
    }
    return {name: row[name] for name in same} | plain | _source(row)


def _check_in(row: Row) -> Row:
    same = ("athlete_id", "day", "kind", *ITEM_KEYS, "hours_slept", "ill", "wants_talk", "seconds", "touches")
    pains = [list(_pain(words)) for words in _listed(row["pains"])]
    return {name: row[name] for name in same} | {"pains": pains, "note": row["note"] or ""}


def _pain(words: str) -> tuple[str, str]:
    """Region and side of what `Pain.in_words` says."""
    for side in ("both", "left", "right"):
        for region in SIDED_REGIONS:
            if Pain(region, side).in_words() == words:
                return region, side
    return words, ""


def _source(row: Row) -> Row:
    return {
        "sensor": row["sensor"] or "",
        "sensor_range_m_s2": row["sensor_range_m_s2"],
        "calibration": None if row["calibration"] is None else json.loads(row["calibration"]),
        "engine_version": row["engine_version"] or "",
    }


def _listed(words: str | None) -> list[str]:
    return words.split("; ") if words else []
