"""What the desk keeps of jumps and check-ins is what the record says, whatever is written meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from station.capture.squad_histories import SquadHistories
from station.squad.calendar import AfterMatch, AfterMatches, after_match
from station.squad.checkins import ITEM_KEYS, CheckIn, CheckInKind
from station.store import checkins, roster
from station.store.erasure import erase_athlete
from station.store.record import Record
from tests.season import fill_season

DAY = date(2026, 10, 14)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = Record(tmp_path / "desk", "desk", lambda: datetime(2026, 10, 14, 5, 45, tzinfo=UTC))
    fill_season(made, DAY, athletes=4, weeks=5)
    yield made
    made.close()


def read(record: Record, histories: SquadHistories) -> SquadHistories:
    with record.database.read() as connection:
        after = AfterMatches(roster.match_dates(connection), roster.played_days(connection))
        histories.read(connection, DAY, after)
    return histories


def test_whatever_is_written_is_seen_and_nothing_else_is_read_again(record: Record) -> None:
    kept = read(record, SquadHistories())
    athlete_id, days = next(iter(kept.jumps.items()))
    jump = {
        "athlete_id": athlete_id,
        "name_confirmed": True,
        "day": DAY,
        "height_m": 0.2,
        "from_flight_m": 0.2,
    }
    jump |= {
        "from_impulse_m": 0.2,
        "flight_time_s": 0.4,
        "flags": [],
        "valid": True,
        "engine_version": "test",
    }
    with record.database.read() as connection:
        (one, *_) = connection.exec_driver_sql(
            f"SELECT id FROM jumps WHERE athlete_id = '{athlete_id}' ORDER BY id DESC"
        ).scalars()
    answered = CheckIn(athlete_id, DAY, CheckInKind.ANSWERED, dict.fromkeys(ITEM_KEYS, 1))
    last_match = max(day for day in record.matches() if day < DAY)
    for write in (
        lambda: record.add_rows("jumps", [jump]),
        lambda: record.correct(one, "struck", True, None),
        lambda: checkins.add_check_in(record, answered),
        lambda: record.add_rows(
            "appearances", [{"athlete_id": athlete_id, "day": last_match, "played": False}]
        ),
        lambda: record.add_rows("matches", [{"day": DAY - timedelta(days=1)}]),
        lambda: erase_athlete(record, athlete_id, DAY),
    ):
        write()
        before = (kept.jumps, kept.check_ins)
        read(record, kept)
        fresh = read(record, SquadHistories())
        assert (kept.jumps, kept.jump_sd_m) == (fresh.jumps, fresh.jump_sd_m)
        assert (kept.check_ins, kept.sum_sd) == (fresh.check_ins, fresh.sum_sd)
        assert kept.jumps is not before[0] or kept.check_ins is not before[1]
    before = (kept.jumps, kept.check_ins)
    read(record, kept)
    assert (kept.jumps, kept.check_ins) == before
    assert kept.jumps is before[0]
    assert kept.check_ins is before[1]
    assert athlete_id not in kept.jumps
    assert days


def test_looking_days_up_once_changes_no_days_name() -> None:
    matches = [DAY - timedelta(days=n) for n in (21, 14, 3)]
    played = {"a": {matches[1]: False}, "b": {matches[2]: True}}
    after = AfterMatches(matches, played)
    for athlete_id in ("a", "b", "c"):
        for n in range(40):
            day = DAY - timedelta(days=n - 5)
            assert after.of(athlete_id, day) == after_match(day, matches, played.get(athlete_id))
    assert after.of("a", matches[1] + timedelta(days=2)) == AfterMatch(2, False)
