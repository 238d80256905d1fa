"""A small record with two athletes, sets, reps, raw samples, a check-in: for what is done with whole records."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np

from drivers.samples import SampleBlock
from station.squad.athletes import Athlete
from station.squad.checkins import ITEM_KEYS, CheckIn, CheckInKind, Pain
from station.squad.roster import RosterChange
from station.store import checkins, roster
from station.store.journal import RawJournal
from station.store.record import Record
from station.store.rows import NewRep, NewSet

DAY = date(2026, 10, 14)
LIFT = "back squat"
AINO, BELA = "0199d000-0000-7000-8000-00000000000a", "0199d000-0000-7000-8000-00000000000b"


class Clock:
    """A machine's clock that tests set; a second passes at each look."""

    def __init__(self, now: datetime = datetime(2026, 10, 14, 10, tzinfo=UTC)) -> None:
        self.now = now

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


def opened(root: Path, name: str = "rack 1", now: Callable[[], datetime] | None = None) -> Record:
    return Record(root / name.replace(" ", "-"), name, now or Clock())


def add_squad(record: Record) -> None:
    record.add_athletes(
        [Athlete(AINO, "Aino Amsel", 7, "rack 1"), Athlete(BELA, "Bela Birkholz", 8, "rack 1")]
    )
    plan = {
        "lift": LIFT,
        "warmup_load_kg": 60.0,
        "planned_load_kg": 95.0,
        "ceiling_kg": 100.0,
        "work_sets": 3,
    }
    record.add_rows("plans", [plan | {"athlete_id": key} for key in (AINO, BELA)])


def samples(n: int, start: int = 0) -> SampleBlock:
    rng = np.random.default_rng(n + start)
    return SampleBlock(np.arange(start, start + n), (start + np.arange(n)) / 200.0, rng.normal(0, 10, (n, 3)))


def lift(
    record: Record, athlete_id: str | None, speeds: tuple[float, ...] = (0.7, 0.68), *, raw: bool = False
) -> str:
    """A set with its reps, over; with raw samples where asked."""
    new = NewSet(athlete_id, True, DAY, 1, LIFT, 60.0, "warm-up", sensor="s", engine_version="test")
    set_id = record.begin_set(new)
    for number, speed in enumerate(speeds, 1):
        record.add_rep(set_id, NewRep(number, "measured", 1.0, 2.0, 2.3, speed, speed, 1.2, 0.6, 0.01))
    if raw:
        journal = RawJournal(record.database.folder / "raw", set_id)
        journal.append(samples(100))
        file = journal.finish()
        assert file is not None
        record.add_raw_file(set_id, file.file, file.samples, file.sha256)
    record.end_set(set_id, "racked")
    return set_id


def everything_about(record: Record, athlete_id: str) -> None:
    """A row in every table that can concern an athlete."""
    set_id = lift(record, athlete_id, raw=True)
    record.correct(set_id, "load_kg", 62.5, "Coach Minke Straten")
    record.decide(set_id, {"sentence": "Use 95 kg", "decision": "use", "load_kg": 95.0})
    record.add_rows("comments", [{"set_id": set_id, "words": "spotter helped", "staff": "Coach Straten"}])
    change = RosterChange(athlete_id, "name", "Aino Amselstein", DAY)
    record.add_rows("roster_changes", roster.change_rows([change]))
    status = {
        "athlete_id": athlete_id,
        "status": "out",
        "lifts": [],
        "from_day": DAY,
        "staff": "Dr. Weidholz",
    }
    record.add_rows("training_statuses", [status])
    record.add_rows("appearances", [{"athlete_id": athlete_id, "day": DAY, "played": True}])
    plan = {"athlete_id": athlete_id, "lift": LIFT, "warmup_load_kg": 60.0, "work_sets": 3, "from_day": DAY}
    record.add_rows("lift_plans", [plan])
    record.add_rows("lift_targets", [{"athlete_id": athlete_id, "lift": LIFT, "target_low_m_s": 0.5}])
    record.add_rows("badges", [{"athlete_id": athlete_id, "code": "4711"}])
    checkins.give_consent(record, athlete_id, given=True)
    answers = dict.fromkeys(ITEM_KEYS, 2)
    pains = (Pain("hamstring", "left"),)
    checkins.add_check_in(
        record, CheckIn(athlete_id, DAY, CheckInKind.ANSWERED, answers, pains, note="slept in a tent")
    )
    entry = {"athlete_id": athlete_id, "day": DAY, "event": "taken", "staff": "Dr. Weidholz", "seen": []}
    record.add_rows("entry_events", [entry | {"medical_note": "ice"}])
    jump = {
        "athlete_id": athlete_id,
        "name_confirmed": True,
        "day": DAY,
        "height_m": 0.31,
        "from_flight_m": 0.3,
    }
    jump |= {
        "from_impulse_m": 0.3,
        "flight_time_s": 0.5,
        "flags": [],
        "valid": True,
        "engine_version": "test",
    }
    record.add_rows("jumps", [jump])
