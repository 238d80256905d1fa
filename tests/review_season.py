"""A season for the review: the invented squad, one set with raw samples from a simulated bar, one strange rep."""

from __future__ import annotations

import functools
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

from drivers.samples import SampleBlock
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from station.capture.see_again import see_again
from station.squad.athletes import Athlete
from station.store.journal import RawJournal
from station.store.kept_raw import KeptSet
from station.store.record import Record
from station.store.rows import NewRep, NewSet
from tests.season import fill_season

DAY = date(2026, 10, 14)
NOON = datetime(2026, 10, 14, 12, 40)  # noqa: DTZ001 - a local time of day
LIFT = "back squat"
COACH = "Coach Minke Straten"
LONGEST = "Ottokar Freiherr von Quellmann-Rosenborn"
LIFTED = PlannedSet(LIFT, (0.62, 0.60, 0.91, 0.55), 0.60, longest_pause_s=1.0)


@functools.cache
def lifted() -> SampleBlock:
    """Raw samples of four squats by a simulated sensor."""
    trace = make_session_trace([LIFTED], seed=5, rest_between_s=8.0)
    seq = np.arange(len(trace))
    arrival = 100.0 + (seq // 10 * 10 + 9) / trace.rate_hz + 0.015
    return SampleBlock(seq, arrival, trace.acc_m_s2, trace.gyr_rad_s)


def opened(folder: Path, rack: str = "review") -> Record:
    """A record at eleven in the morning UTC."""
    return Record(folder, rack, lambda: datetime(2026, 10, 14, 11, 0, tzinfo=UTC))


def a_season(folder: Path, athletes: int = 12, weeks: int = 6) -> tuple[Record, str]:
    """The desk's record, and the set with raw samples: the newest of all."""
    record = opened(folder, "rack 1")
    record.add_athletes([Athlete("long", LONGEST, 112, "rack 1")])
    fill_season(record, DAY, athletes=athletes, weeks=weeks)
    set_id = lift_with_raw(record)
    record.close()
    return opened(folder), set_id


def lift_with_raw(record: Record, athlete_id: str | None = "long", slower_m_s: float = 0.0) -> str:
    """A set with raw samples, measured by the engine of its day.

    Args:
        slower_m_s: how much lower that engine found every speed.
    """
    new = NewSet(athlete_id, True, DAY, 1, LIFT, 95.0, "work", sensor="Bar sensor 1", engine_version="0.0.9")
    set_id = record.begin_set(new)
    journal = RawJournal(record.database.folder / "raw", set_id)
    journal.append(lifted())
    file = journal.finish()
    assert file is not None
    record.add_raw_file(set_id, file.file, file.samples, file.sha256)
    for rep in found_in(record.database.folder, file.file, file.sha256):
        record.add_rep(set_id, _slower(rep, slower_m_s))
    record.end_set(set_id, "racked")
    return set_id


_found: dict[str, tuple[NewRep, ...]] = {}


def found_in(folder: Path, file: str, sha256: str) -> tuple[NewRep, ...]:
    """What the engine finds in a kept file; the same samples are measured once."""
    if sha256 not in _found:
        kept = KeptSet("", DAY, LIFT, 95.0, file, sha256, None, None, None, "", ())
        _found[sha256] = see_again(folder, kept).reps
    return _found[sha256]


def _slower(rep: NewRep, by_m_s: float) -> NewRep:
    speed = rep.mean_velocity_m_s
    return replace(rep, mean_velocity_m_s=None if speed is None else speed - by_m_s)
