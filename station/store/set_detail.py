"""One set with everything the record has of it: reps of every measurement with curves, corrections, comments."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np
from sqlalchemy import Connection, select

from drivers.samples import FloatArray
from station.store.effective import MEASURED_AGAIN, effective_reps, effective_sets, rep_row, set_row
from station.store.log_filter import newest_of_field
from station.store.review_tables import comments
from station.store.rows import RepRow, SetRow
from station.store.tables import corrections, decisions, reps, sets


@dataclass(frozen=True, slots=True)
class DetailRep:
    """A rep with its curve.

    Attributes:
        curve_time_s, curve_m_s: its velocity curve, shape (n,) each; empty where none was kept.
    """

    row: RepRow
    curve_time_s: FloatArray = field(compare=False, repr=False)
    curve_m_s: FloatArray = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Corrected:
    """One correction as it was written: of the set itself or of the rep or comment `target_id`."""

    target_id: str
    field: str
    to: Any
    staff: str
    why: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Comment:
    """What somebody wrote beside a set; `struck`: they took it back."""

    comment_id: str
    words: str
    staff: str
    at: datetime
    struck: bool = False


@dataclass(frozen=True, slots=True)
class SetDetail:
    """A set, open.

    Attributes:
        lifted_by, lift_then, load_then_kg: as it was written down at the rack.
        measured_by: version of the engine whose reps hold now; "" for the measurement at the rack.
        reps: of every measurement, in order.
        decided: what a coach decided about the suggestion after it, in order.
    """

    set: SetRow
    lifted_by: str | None
    lift_then: str
    load_then_kg: float
    staff: str
    engine_version: str
    calibrated: bool
    sensor_range_m_s2: float | None
    measured_by: str
    reps: tuple[DetailRep, ...]
    corrections: tuple[Corrected, ...]
    comments: tuple[Comment, ...]
    decided: tuple[str, ...] = ()

    @property
    def now(self) -> tuple[DetailRep, ...]:
        """The reps of the measurement that holds."""
        return tuple(rep for rep in self.reps if rep.row.engine_version == self.measured_by)


def set_detail(connection: Connection, set_id: str) -> SetDetail | None:
    """Everything of one set; None where there is none (any more)."""
    row = connection.execute(effective_sets().where(sets.c.id == set_id)).first()
    if row is None:
        return None
    found = tuple(_reps(connection, set_id))
    said = tuple(comments_of(connection, [set_id]).get(set_id, ()))
    targets = [set_id, *(rep.row.rep_id for rep in found), *(one.comment_id for one in said)]
    written = corrections_of(connection, targets)
    again = [one.to for one in written if one.target_id == set_id and one.field == MEASURED_AGAIN]
    return SetDetail(
        set_row(row),
        row.athlete_id,
        row.lift,
        row.load_kg,
        row.staff or "",
        row.engine_version,
        row.calibration is not None,
        row.sensor_range_m_s2,
        (again[-1] or "") if again else "",
        found,
        written,
        said,
        _decided(connection, set_id),
    )


def corrections_of(connection: Connection, targets: Collection[str]) -> tuple[Corrected, ...]:
    """Every correction of these rows, in order of writing."""
    c = corrections.c
    query = select(corrections).where(c.target_id.in_(targets)).order_by(c.id)
    return tuple(
        Corrected(r.target_id, r.field, r.value["to"], r.staff or "", r.why, r.born_at)
        for r in connection.execute(query)
    )


def comments_of(connection: Connection, set_ids: Collection[str]) -> dict[str, list[Comment]]:
    """By set what was written beside it, oldest first."""
    c = comments.c
    rows = connection.execute(select(comments).where(c.set_id.in_(set_ids)).order_by(c.id)).all()
    newest = newest_of_field("struck")
    query = select(newest.c.target_id, newest.c.value).where(newest.c.target_id.in_([r.id for r in rows]))
    gone = {r.target_id: r.value["to"] for r in connection.execute(query)}
    found: dict[str, list[Comment]] = {}
    for r in rows:
        one = Comment(r.id, r.words, r.staff, r.born_at, bool(gone.get(r.id, False)))
        found.setdefault(r.set_id, []).append(one)
    return found


def _reps(connection: Connection, set_id: str) -> list[DetailRep]:
    query = effective_reps().where(reps.c.set_id == set_id).order_by(reps.c.number, reps.c.id)
    found = []
    for row in connection.execute(query):
        curve = np.frombuffer(row.curve or b"", "<f4").reshape(-1, 2).astype(float)
        found.append(DetailRep(rep_row(row), curve[:, 0], curve[:, 1]))
    # A movement that turned back has no number of its own: it stands where it happened.
    return sorted(found, key=lambda rep: rep.row.start_time_s)


def _decided(connection: Connection, set_id: str) -> tuple[str, ...]:
    d = decisions.c
    query = select(d.sentence, d.decision, d.load_kg, d.staff).where(d.set_id == set_id).order_by(d.id)
    return tuple(
        " · ".join(
            part
            for part in (
                r.sentence,
                r.decision + (f" {r.load_kg:g} kg" if r.load_kg is not None else ""),
                r.staff or "",
            )
            if part
        )
        for r in connection.execute(query)
    )
