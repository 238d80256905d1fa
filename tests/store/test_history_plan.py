"""How the database finds a history: by indexes that hold what is asked, whatever else the record holds."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from station.store.record import Record
from tests.shared_postgres import Shared
from tests.store.squad_record import AINO, BELA, LIFT, add_squad, lift, opened


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = opened(tmp_path)
    add_squad(made)
    for athlete_id in (AINO, BELA):
        lift(made, athlete_id)
    yield made
    made.close()


def plans_of_a_history(record: Record) -> list[str]:
    """SQLite's plan of each statement that a history asks, in a line each step (sqlite.org/eqp.html)."""
    asked: list[tuple[str, Any]] = []

    def note(_c: Any, _cursor: Any, statement: str, parameters: Any, *_: Any) -> None:
        if statement.startswith("SELECT"):
            asked.append((statement, parameters))

    event.listen(record.database.engine, "before_cursor_execute", note)
    assert len(record.observations(AINO, LIFT)) == 1
    event.remove(record.database.engine, "before_cursor_execute", note)
    with record.database.read() as connection:
        return [
            "\n".join(row[3] for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {words}", given))
            for words, given in asked
        ]


def test_a_history_reads_no_table_of_sets_or_reps_from_end_to_end(record: Record) -> None:
    plan = "\n".join(plans_of_a_history(record))
    assert "SCAN sets" not in plan
    assert "SCAN reps" not in plan
    assert "SEARCH reps" in plan


def test_the_days_of_an_athletes_lift_are_found_without_a_row_of_a_set(record: Record) -> None:
    days, _reps = plans_of_a_history(record)
    assert "SEARCH sets_1 USING COVERING INDEX ix_sets_athlete_days (athlete_id=?)" in days
    assert "SEARCH sets USING INDEX ix_sets_athlete_days (athlete_id=?)" in days


def test_what_counts_of_a_rep_is_found_without_its_row_and_curve(record: Record) -> None:
    _days, reps = plans_of_a_history(record)
    assert "SEARCH reps USING COVERING INDEX ix_reps_counted (set_id=?)" in reps


def test_the_shared_database_has_the_same_indexes_and_none_that_they_replace(shared: Shared) -> None:
    with shared.admin.begin() as connection:
        query = (
            "SELECT indexname FROM pg_indexes WHERE schemaname = 'station' AND tablename IN ('sets', 'reps')"
        )
        names = set(connection.exec_driver_sql(query).scalars())
    assert {"ix_sets_athlete_days", "ix_reps_counted"} <= names
    assert names.isdisjoint({"ix_sets_athlete_id", "ix_reps_set_id"})
