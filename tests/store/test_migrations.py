"""A record of an earlier version, with data in it, becomes today's and loses nothing."""

from __future__ import annotations

import sqlite3
from datetime import UTC, date, datetime
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine

from station.store.database import FILE_NAME
from station.store.migrating import newest_version
from station.store.record import Record

NOW = datetime(2026, 10, 14, 8, 0, tzinfo=UTC)
BORN = ("2026-10-13 08:00:00.000000", "rack 1")


def record_of_the_first_version(folder: Path) -> None:
    """Made by the first migration alone, filled by plain SQL as its station wrote it."""
    folder.mkdir()
    engine = create_engine(f"sqlite:///{folder / FILE_NAME}")
    config = Config()
    config.set_main_option("script_location", "station.store:migrations")
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
    engine.dispose()
    with sqlite3.connect(folder / FILE_NAME) as file:
        file.execute("INSERT INTO athletes VALUES ('a', ?, ?, 'Aino Amsel', 7, 'rack 1', 'full')", BORN)
        file.execute("INSERT INTO staff VALUES ('s', ?, ?, 'Coach Minke Straten')", BORN)
        file.execute("INSERT INTO matches VALUES ('m', ?, ?, '2026-10-11')", BORN)
        file.execute(
            "INSERT INTO plans VALUES ('p', ?, ?, 'a', 'back squat', 60, 95, 100, 3, 0.2)",
            BORN,
        )
        file.execute(
            "INSERT INTO sets VALUES ('set', ?, ?, 'a', 1, '2026-10-13', 1, 'back squat', 60, 'warm-up', "
            "NULL, 'sensor', NULL, NULL, NULL, 20, '0.1')",
            BORN,
        )
        file.execute(
            "INSERT INTO reps VALUES ('rep', ?, ?, 'set', 1, 'measured', 1, 2, 2.3, 0.71, 0.72, 1.2, 0.6, 0.01, "
            "'[]', '', NULL)",
            BORN,
        )
    file.close()


def test_everything_of_the_first_version_is_there_afterwards(tmp_path: Path) -> None:
    record_of_the_first_version(tmp_path / "data")
    record = Record(tmp_path / "data", "rack 1", lambda: NOW)
    try:
        assert [(a.name, a.shirt_number, a.group) for a in record.athletes()] == [("Aino Amsel", 7, "rack 1")]
        assert record.staff_names() == ["Coach Minke Straten"]
        assert record.matches() == [date(2026, 10, 11)]
        (plan,) = record.plans()
        assert (plan["warmup_load_kg"], plan["planned_load_kg"], plan["ceiling_kg"]) == (60, 95, 100)
        (seen,) = record.observations("a", "back squat")
        assert (seen.mean_velocity_m_s, seen.day) == (0.71, date(2026, 10, 13))
        with record.database.read() as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar_one() == "ok"
            assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
    finally:
        record.close()


def test_the_newest_version_is_the_head_that_alembic_finds() -> None:
    config = Config()
    config.set_main_option("script_location", "station.store:migrations")
    assert newest_version() == ScriptDirectory.from_config(config).get_current_head()
