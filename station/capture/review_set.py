"""A set open at the review desk: its reps with their curves, what was written about it, its raw samples."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

import numpy as np
from sqlalchemy import Connection

from drivers.samples import FloatArray
from station.capture.old_beside_new import pair_reps
from station.capture.rack_view import RepStatus, Unit
from station.capture.review_desk import ReviewRefused, measurement_name
from station.capture.review_log import LogLine, log_line, named, people
from station.capture.see_again import SeenAgain, see_again
from station.readiness.plates import load_words
from station.squad.athletes import Athlete
from station.store.effective import MEASURED_AGAIN
from station.store.raw_near import NearRaw, near_raw
from station.store.record import Record
from station.store.rows import NewRep, RepRow
from station.store.session_log import log_rows
from station.store.set_detail import Corrected, SetDetail, set_detail

_NONE: FloatArray = np.empty(0)


@dataclass(frozen=True, slots=True)
class RepLine:
    """One rep of the measurement that holds.

    Attributes:
        name: "1", "2", ... or "–" for one that turned back.
        words: what is unsure about it, or who struck it out and why.
        curve_time_s, curve_m_s: its velocity from its own start on, shape (n,) each; empty: none was kept.
    """

    rep_id: str
    name: str
    status: str
    struck: bool
    start_time_s: float
    mean_velocity_m_s: float | None
    peak_velocity_m_s: float | None
    displacement_m: float | None
    uncertainty_m_s: float | None
    words: str
    curve_time_s: FloatArray = field(compare=False, repr=False)
    curve_m_s: FloatArray = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class SetReview:
    """A set, open; `raw` says where its samples lie, or why they cannot be shown.

    Attributes:
        measured: by which engine, in words.
        history: what was corrected, decided and written, oldest first, in sentences.
        comments: (id, words, who and when) of those that stand.
    """

    line: LogLine
    reps: tuple[RepLine, ...]
    measured: str
    history: tuple[str, ...]
    comments: tuple[tuple[str, str, str], ...]
    raw: NearRaw


@dataclass(frozen=True, slots=True)
class PairLine:
    """One rep as it was and as today's engine finds it; None where one of them has none."""

    then_name: str
    then_m_s: float | None
    then_words: str
    now_m_s: float | None
    now_words: str


@dataclass(frozen=True, eq=False, slots=True)
class OldBesideNew:
    """A set measured again, before somebody accepts it.

    Attributes:
        pairs: in order of time.
        same: nothing differs by as much as a hundredth of a metre a second.
        best_then_m_s, best_now_m_s: the fastest counted rep, None without any.
    """

    set_id: str
    seen: SeenAgain
    pairs: tuple[PairLine, ...]
    same: bool
    holds_already: bool
    best_then_m_s: float | None
    best_now_m_s: float | None


SAME_M_S = 0.005


class ReviewSets:
    """Opens sets of one record; in one thread of its desk.

    Args:
        today: the local day.
    """

    def __init__(self, record: Record, today: Callable[[], date]) -> None:
        self._record, self._today = record, today

    def open(self, set_id: str, unit: Unit = "kg") -> SetReview:
        """The set as it stands now.

        Raises:
            ReviewRefused: it is no longer there.
        """
        with self._record.database.read() as connection:
            return self._opened(connection, set_id, unit)

    def beside(self, set_id: str, seen: SeenAgain) -> OldBesideNew:
        """What was measured beside what today's engine finds."""
        with self._record.database.read() as connection:
            detail = set_detail(connection, set_id)
        if detail is None:
            raise ReviewRefused("This set is no longer in the record.")
        return old_beside_new(detail, seen)

    def _opened(self, connection: Connection, set_id: str, unit: Unit) -> SetReview:
        detail, rows = set_detail(connection, set_id), log_rows(connection, [set_id])
        if detail is None or not rows:
            raise ReviewRefused("This set is no longer in the record.")
        squad = people(connection, self._today())
        struck = {c.target_id: c for c in detail.corrections if c.field == "struck"}
        return SetReview(
            log_line(rows[0], squad),
            tuple(
                _rep_line(r.row, r.curve_time_s, r.curve_m_s, struck.get(r.row.rep_id)) for r in detail.now
            ),
            _measured(detail),
            tuple(_history(detail, squad, unit)),
            tuple(
                (c.comment_id, c.words, f"{c.staff}, {_when(c.at)}") for c in detail.comments if not c.struck
            ),
            near_raw(connection, self._record.database.folder, set_id, self._today()),
        )


def look_at_raw(raw: NearRaw) -> SeenAgain:
    """The raw samples through today's engine; may take seconds, touches no record."""
    if raw.folder is None or raw.kept is None:
        return SeenAgain((), trouble=raw.why_not)
    return see_again(Path(raw.folder), raw.kept)


def old_beside_new(detail: SetDetail, seen: SeenAgain) -> OldBesideNew:
    """Reps paired by when they happened; one that a person struck out stays struck."""
    old = [rep.row for rep in detail.now]
    paired = pair_reps(old, seen.reps)
    pairs = tuple(_pair(then, seen.reps[place] if place is not None else None) for then, place in paired)
    same = all(
        p.then_m_s is not None and p.now_m_s is not None and abs(p.then_m_s - p.now_m_s) < SAME_M_S
        for p in pairs
    )
    counted = [seen.reps[at] for then, at in paired if at is not None and (then is None or not then.struck)]
    return OldBesideNew(
        detail.set.set_id,
        seen,
        pairs,
        same and bool(pairs),
        detail.measured_by == measurement_name(seen.reps),
        _best([row for row in old if not row.struck]),
        _best(counted),
    )


def _best(reps: Sequence[RepRow | NewRep]) -> float | None:
    sure = [rep.mean_velocity_m_s for rep in reps if rep.status == RepStatus.MEASURED]
    return max((speed for speed in sure if speed is not None), default=None)


def _pair(then: RepRow | None, now: NewRep | None) -> PairLine:
    struck = "struck out" if then is not None and then.struck else ""
    found = "" if now is None else now.why or ("" if now.status == RepStatus.MEASURED else now.status)
    return PairLine(
        "" if then is None else str(then.number or "–"),
        None if then is None else then.mean_velocity_m_s,
        "not there" if then is None else struck or then.why,
        None if now is None else now.mean_velocity_m_s,
        "not found" if now is None else "stays struck out" if struck else found,
    )


def _rep_line(row: RepRow, time_s: FloatArray, velocity: FloatArray, struck: Corrected | None) -> RepLine:
    words = row.why
    if row.struck and struck is not None:
        who = f"struck out by {struck.staff or 'nobody signed in'}, {_when(struck.at)}"
        words = f"{who}: {struck.why}" if struck.why else who
    return RepLine(
        row.rep_id,
        str(row.number or "–"),
        row.status,
        row.struck,
        row.start_time_s,
        row.mean_velocity_m_s,
        row.peak_velocity_m_s,
        row.displacement_m,
        row.uncertainty_m_s,
        words,
        time_s - row.start_time_s if len(time_s) else _NONE,
        velocity,
    )


def _measured(detail: SetDetail) -> str:
    sensor = detail.set.sensor or "sensor not written down"
    calibrated = "calibrated" if detail.calibrated else "not calibrated"
    engine = detail.measured_by or detail.engine_version
    again = "measured again by engine" if detail.measured_by else "engine"
    return f"{sensor}, {calibrated} · {again} {engine.partition('+')[0] or 'unknown'}"


def _history(detail: SetDetail, squad: Mapping[str, Athlete], unit: Unit) -> list[str]:
    """What happened to the set after it was lifted, oldest first."""
    names = {rep.row.rep_id: f"rep {rep.row.number or 'that turned back'}" for rep in detail.reps}
    was: dict[tuple[str, str], object] = {
        (detail.set.set_id, "athlete_id"): detail.lifted_by,
        (detail.set.set_id, "lift"): detail.lift_then,
        (detail.set.set_id, "load_kg"): detail.load_then_kg,
    }
    found = [f"Lifted at {detail.set.rack}" + (f", {detail.staff} signed in" if detail.staff else "")]
    found += [f"Suggestion: {words}" for words in detail.decided]
    for one in detail.corrections:
        what = _what(one, names, was.get((one.target_id, one.field)), squad, unit)
        was[one.target_id, one.field] = one.to
        if what:
            why = f": {one.why}" if one.why else ""
            found.append(f"{_when(one.at)}, {one.staff or 'nobody signed in'} – {what}{why}")
    return found


def _what(
    one: Corrected, names: Mapping[str, str], was: object, squad: Mapping[str, Athlete], unit: Unit
) -> str:
    if one.field == "athlete_id":
        return f"moved from {_called(was, squad)} to {_called(one.to, squad)}"
    if one.field == "lift":
        return f"lift {was} corrected to {one.to}"
    if one.field == "load_kg":
        return f"load {_load(was, unit)} corrected to {_load(one.to, unit)}"
    if one.field == MEASURED_AGAIN:
        engine = str(one.to).partition("+")[0]
        return f"measured again by engine {engine}" if one.to else "back to the measurement at the rack"
    if one.field == "struck":
        name = names.get(one.target_id, "comment")
        return f"{name} {'struck out' if one.to else 'restored'}"
    if one.field == "full_effort":
        return "full effort" if one.to else "not lifted with full effort"
    return f"bar corrected to {_load(one.to, unit)}" if one.field == "bar_kg" else ""


def _called(athlete_id: object, squad: Mapping[str, Athlete]) -> str:
    athlete = squad.get(str(athlete_id))
    return "nobody" if athlete is None else named(athlete)


def _load(load_kg: object, unit: Unit) -> str:
    return load_words(load_kg, unit) if isinstance(load_kg, int | float) else "unknown"


def _when(at: datetime) -> str:
    return f"{at.astimezone():%Y-%m-%d %H:%M}"
