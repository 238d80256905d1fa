"""The record: durable, append-only, corrected by pointing at what was measured."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text
from sqlalchemy.exc import StatementError

from station.squad.athletes import Athlete
from station.store import tables
from station.store.database import FILE_NAME, Database
from station.store.errors import DatabaseTooNew, FolderInUse, FolderNotWritable, NotADatabase, WriteFailed
from station.store.record import Record
from station.store.rows import NewRep, NewSet

DAY = date(2026, 10, 14)
START = datetime(2026, 10, 14, 10, 0, tzinfo=UTC)


class Watch:
    """A clock that tests set by hand."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    opened = Record(tmp_path / "data", "rack 1", Watch())
    opened.add_athletes([Athlete("a", "Aino Amsel", 7, "rack 1"), Athlete("b", "Bela Birkholz", 8, "rack 1")])
    yield opened
    opened.close()


def squat_set(athlete_id: str | None = "a", load_kg: float = 60.0) -> NewSet:
    return NewSet(athlete_id, True, DAY, 1, "back squat", load_kg, "warm-up", engine_version="test")


def rep(number: int, velocity: float | None, status: str = "measured") -> NewRep:
    return NewRep(number, status, 1.0, 2.0, 2.3, velocity, velocity, velocity, 0.6, 0.01)


def test_a_rep_can_be_read_by_another_program_as_soon_as_add_rep_returns(record: Record) -> None:
    set_id = record.begin_set(squat_set())
    record.add_rep(set_id, rep(1, 0.71))
    with sqlite3.connect(record.database.path) as other:
        assert other.execute("SELECT mean_velocity_m_s FROM reps").fetchall() == [(0.71,)]
    other.close()


def test_commits_wait_for_the_disk(record: Record) -> None:
    with record.database.read() as connection:
        assert connection.execute(text("PRAGMA journal_mode")).scalar_one() == "wal"
        assert (
            connection.execute(text("PRAGMA synchronous")).scalar_one() == 2
        )  # FULL (sqlite.org/pragma.html)


def test_the_fastest_counted_rep_speaks_for_a_set(record: Record) -> None:
    set_id = record.begin_set(squat_set())
    for number, (velocity, status) in enumerate(
        [(0.70, "measured"), (0.74, "measured"), (0.99, "uncertain"), (None, "not measured")], 1
    ):
        record.add_rep(set_id, rep(number, velocity, status))
    (only,) = record.observations("a", "back squat")
    assert only.mean_velocity_m_s == 0.74


def test_a_struck_rep_no_longer_counts_and_can_be_put_back(record: Record) -> None:
    set_id = record.begin_set(squat_set())
    record.add_rep(set_id, rep(1, 0.70))
    wild = record.add_rep(set_id, rep(2, 0.91))
    record.correct(wild, "struck", True, "coach", "caught by the spotter")
    assert record.observations("a", "back squat")[0].mean_velocity_m_s == 0.70
    assert [r.struck for r in record.reps_of(set_id)] == [False, True]
    record.correct(wild, "struck", False, "coach")
    assert record.observations("a", "back squat")[0].mean_velocity_m_s == 0.91


def test_a_moved_set_leaves_one_history_and_enters_the_other(record: Record) -> None:
    set_id = record.begin_set(squat_set("a"))
    record.add_rep(set_id, rep(1, 0.70))
    record.correct(set_id, "athlete_id", "b", "coach")
    assert record.observations("a", "back squat") == []
    assert [o.mean_velocity_m_s for o in record.observations("b", "back squat")] == [0.70]
    record.correct(set_id, "athlete_id", "a", "coach")
    assert record.observations("b", "back squat") == []
    assert len(record.observations("a", "back squat")) == 1


def test_an_unnamed_set_is_named_later(record: Record) -> None:
    set_id = record.begin_set(squat_set(None))
    record.add_rep(set_id, rep(1, 0.70))
    record.correct(set_id, "athlete_id", "b", None)
    assert len(record.observations("b", "back squat")) == 1


def test_a_corrected_load_is_the_load(record: Record) -> None:
    set_id = record.begin_set(squat_set("a", 60.0))
    record.add_rep(set_id, rep(1, 0.70))
    record.correct(set_id, "load_kg", 62.5, "coach", "wrong plates")
    assert record.observations("a", "back squat")[0].load_kg == 62.5


def test_corrections_leave_the_measured_rows_as_they_were(record: Record) -> None:
    set_id = record.begin_set(squat_set("a", 60.0))
    rep_id = record.add_rep(set_id, rep(1, 0.70))
    record.correct(set_id, "load_kg", 62.5, "coach")
    record.correct(rep_id, "struck", True, "coach")
    with record.database.read() as connection:
        assert connection.execute(text("SELECT load_kg FROM sets")).scalar_one() == 60.0
        assert connection.execute(text("SELECT mean_velocity_m_s FROM reps")).scalar_one() == 0.70


def test_three_idle_hours_begin_a_new_session(tmp_path: Path) -> None:
    watch = Watch()
    record = Record(tmp_path, "rack 1", watch)
    assert record.session_now(DAY) == 1
    record.begin_set(squat_set(None))
    assert record.session_now(DAY) == 1
    watch.now += timedelta(hours=3, minutes=1)
    assert record.session_now(DAY) == 2
    record.close()


def test_everything_is_there_after_closing_and_opening(tmp_path: Path) -> None:
    record = Record(tmp_path, "rack 1", Watch())
    record.add_athletes([Athlete("a", "Aino Amsel", 7)])
    record.add_rep(record.begin_set(squat_set()), rep(1, 0.71))
    record.claim_sensor("bar sensor", "F0:00:00:00:00:01")
    record.close()
    again = Record(tmp_path, "rack 1", Watch())
    assert again.observations("a", "back squat")[0].mean_velocity_m_s == 0.71
    assert again.claimed_sensor() == ("bar sensor", "F0:00:00:00:00:01")
    with again.database.read() as connection:
        assert connection.execute(text("PRAGMA integrity_check")).scalar_one() == "ok"
        assert connection.execute(text("PRAGMA foreign_key_check")).all() == []
    again.close()


def test_instants_come_back_as_utc_and_need_a_zone(record: Record) -> None:
    record.begin_set(squat_set())
    (row,) = record.sets_on(DAY)
    assert row.born_at.tzinfo is UTC
    without_zone = {"born_at": datetime(2026, 1, 1), "day": DAY}  # noqa: DTZ001
    with pytest.raises(StatementError, match="zone"):
        record.add_rows("matches", [without_zone])


def test_ids_made_one_after_the_other_sort_in_that_order() -> None:
    ids = [tables.new_id() for _ in range(500)]
    assert ids == sorted(ids)
    assert ids[0][14] == "7"  # the version nibble of RFC 9562


def test_the_migrations_make_exactly_the_tables(record: Record) -> None:
    with record.database.read() as connection:
        assert compare_metadata(MigrationContext.configure(connection), tables.metadata) == []


# -- bad input -------------------------------------------------------------------------------------------------


def test_a_file_that_is_no_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).write_bytes(b"a shopping list, not a database")
    with pytest.raises(NotADatabase, match="is not a station's record"):
        Database(tmp_path)
    assert (tmp_path / FILE_NAME).read_bytes() == b"a shopping list, not a database"


def test_a_damaged_database_is_refused(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).write_bytes(b"SQLite format 3\x00" + bytes(range(256)) * 40)
    with pytest.raises(NotADatabase):
        Database(tmp_path)


def test_a_second_station_on_the_same_folder_is_refused(record: Record) -> None:
    with pytest.raises(FolderInUse, match="already using"):
        Database(record.database.folder)


def test_a_refused_folder_is_given_free_again(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).write_bytes(b"not a database at all")
    with pytest.raises(NotADatabase):
        Database(tmp_path)
    (tmp_path / FILE_NAME).unlink()
    Database(tmp_path).close()


def test_a_record_of_a_newer_station_is_refused_unchanged(tmp_path: Path) -> None:
    database = Database(tmp_path)
    with database.write("x") as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    database.close()
    with pytest.raises(DatabaseTooNew, match="9999"):
        Database(tmp_path)


def test_a_folder_that_is_a_file_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("in the way")
    with pytest.raises(FolderNotWritable, match="cannot write to"):
        Database(tmp_path / "data")


def test_a_write_the_disk_refuses_keeps_nothing_and_says_so(record: Record) -> None:
    set_id = record.begin_set(squat_set())
    with record.database.read() as connection:
        pages = connection.execute(text("PRAGMA page_count")).scalar_one()
    record.database.engine.dispose()
    # SQLite's own way to be full: no page may be added (sqlite.org/pragma.html#pragma_max_page_count).
    with record.database.engine.connect() as connection:
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    long_rep = replace(rep(1, 0.7), why="x" * 200)

    def fill_up() -> None:
        for number in range(2000):
            record.add_rep(set_id, replace(long_rep, number=number))

    with pytest.raises(WriteFailed, match="could not be saved"):
        fill_up()
    kept = record.reps_of(set_id)
    assert [r.number for r in kept] == list(range(len(kept)))


@pytest.mark.skipif(os.name != "posix", reason="other systems keep a home folder from others by themselves")
def test_a_records_folder_is_for_its_own_account_alone(tmp_path: Path) -> None:
    Record(tmp_path / "data" / "rack 1", "rack 1", lambda: datetime(2026, 10, 14, 9, tzinfo=UTC)).close()
    assert (tmp_path / "data" / "rack 1").stat().st_mode & 0o077 == 0
