"""How long the squad day of 120 athletes with five seasons behind them takes to open. `make bench`."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from station.capture.kept_places import CACHE_FILE
from station.capture.squad_day import SquadDay
from station.capture.squad_desk import SquadDesk
from station.store.record import Record
from tests.season import WARMUP_KG, _set, fill_season

DAY = date(2026, 10, 14)
FIVE_SEASONS_WEEKS = 5 * 46


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    folder = tmp_path_factory.mktemp("seasons") / "desk"
    made = Record(folder, "desk", lambda: datetime(2026, 10, 14, 5, 45, tzinfo=UTC))
    fill_season(made, DAY, athletes=120, weeks=FIVE_SEASONS_WEEKS)
    yield made
    made.close()


def opened(record: Record) -> SquadDay:
    return SquadDesk(record, lambda: datetime(2026, 10, 14, 12, 40)).day()  # noqa: DTZ001 - local time


def test_the_squad_day_opens(benchmark: BenchmarkFixture, record: Record) -> None:
    """Wanted: under 300 ms. The usual ranges at the bar were computed when the last set came in."""
    opened(record)
    day: SquadDay = benchmark.pedantic(opened, (record,), rounds=5)  # type: ignore[no-untyped-call]
    assert len(day.list.entries) == 120


def test_the_squad_day_opens_shut_and_then_with_a_pin(benchmark: BenchmarkFixture, record: Record) -> None:
    """Wanted: under 300 ms together. Signing in makes the other list of what was read already."""

    def both() -> SquadDay:
        read = SquadDesk(record, lambda: datetime(2026, 10, 14, 12, 40)).read()  # noqa: DTZ001 - local time
        assert read.shut().shut
        return read.opened()

    both()
    day: SquadDay = benchmark.pedantic(both, rounds=5)  # type: ignore[no-untyped-call]
    assert len(day.list.entries) == 120


def test_the_squad_day_opens_with_no_usual_range_computed_yet(
    benchmark: BenchmarkFixture, record: Record
) -> None:
    """The first time after new sets: every athlete's model is solved again."""

    def forget() -> None:
        (record.database.folder / CACHE_FILE).unlink(missing_ok=True)

    day: SquadDay = benchmark.pedantic(opened, (record,), setup=forget, rounds=3)  # type: ignore[no-untyped-call]
    assert len(day.list.entries) == 120


def test_the_squad_day_right_after_a_new_set(benchmark: BenchmarkFixture, record: Record) -> None:
    """Wanted: under 300 ms. The desk keeps what was computed of everybody else."""
    desk = SquadDesk(record, lambda: datetime(2026, 10, 14, 12, 40))  # noqa: DTZ001 - local time
    desk.day()
    desk.get_ready()
    done = iter(range(120))

    def lifted() -> None:
        rows: dict[str, list[dict[str, Any]]] = {"sets": [], "reps": []}
        at = datetime(2026, 10, 14, 10, tzinfo=UTC)
        _set(rows, f"athlete-{next(done):03d}", "rack 1", DAY, at, WARMUP_KG, 0.7)
        for table, made in rows.items():
            record.add_rows(table, made)

    day: SquadDay = benchmark.pedantic(desk.day, setup=lifted, rounds=5)  # type: ignore[no-untyped-call]
    assert len(day.list.entries) == 120
