"""A set open at the review desk: its reps with their curves, what was written about it, its raw samples."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import numpy as np
from sqlalchemy import Connection

from drivers.samples import FloatArray
from station.capture.rack_view import Unit
from station.capture.review_beside import OldBesideNew, old_beside_new
from station.capture.review_desk import ReviewRefused
from station.capture.review_log import LogLine, log_line, people
from station.capture.see_again import SeenAgain, see_again
from station.capture.set_history import history_words, when
from station.store.errors import ServerAway, ServerRefused
from station.store.raw_near import NearRaw, near_raw
from station.store.raw_shared import fetch_set
from station.store.record import Record
from station.store.rows import RepRow
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
            tuple(history_words(detail, squad, unit)),
            tuple(
                (c.comment_id, c.words, f"{c.staff}, {when(c.at)}") for c in detail.comments if not c.struck
            ),
            near_raw(connection, self._record.database.folder, set_id, self._today(), fetch=False),
        )


def fetch_raw(folder: Path, review: SetReview) -> str:
    """Bring raw samples that lie in the shared database; may take seconds, reads no record but for their names.

    Args:
        folder: of the desk's record.

    Returns:
        "" when they came; else, in a sentence, why not.
    """
    try:
        came = fetch_set(folder, review.line.set_id)
    except (ServerAway, ServerRefused) as error:
        return f"The raw samples of this set are not here: {error}"
    return "" if came else review.raw.why_not


def look_at_raw(raw: NearRaw) -> SeenAgain:
    """The raw samples through today's engine; may take seconds, touches no record."""
    if raw.folder is None or raw.kept is None:
        return SeenAgain((), trouble=raw.why_not)
    return see_again(Path(raw.folder), raw.kept)


def _rep_line(row: RepRow, time_s: FloatArray, velocity: FloatArray, struck: Corrected | None) -> RepLine:
    words = row.why
    if row.struck and struck is not None:
        who = f"struck out by {struck.staff or 'nobody signed in'}, {when(struck.at)}"
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
