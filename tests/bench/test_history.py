"""One athlete's history of a lift out of five years of 120 athletes: promised under 10 ms. Never asserted."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, date, datetime
from typing import Any

import pytest

from station.store.many_rows import add_together
from station.store.record import Record
from tests.bench.five_years import LIFTS, LOADS_KG, SESSIONS_A_YEAR, past

YEARS = 5
TODAY = date(2026, 10, 14)
LIFT = "back squat"


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    with closing(Record(tmp_path_factory.mktemp("data"), "rack 1", lambda: datetime.now(UTC))) as made:
        for rows in past(YEARS, TODAY):
            add_together(made, "the past", rows)
        yield made


def test_history_of_one_athlete_and_lift(record: Record, benchmark: Any) -> None:
    athlete = record.athletes(TODAY)[60]
    found = benchmark(record.observations, athlete.athlete_id, LIFT)
    assert len(found) == YEARS * SESSIONS_A_YEAR // len(LIFTS) * len(LOADS_KG)
