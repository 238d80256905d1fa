"""What a desk keeps of the squad's usual ranges equals what is computed afresh, whatever was written meanwhile."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from station.capture import squad_bars
from station.capture.squad_bars import SquadBars
from station.capture.squad_day import SquadDay, squad_day
from station.capture.squad_desk import SquadDesk
from station.readiness.bar_place import place_bar
from station.store.erasure import erase_athlete
from station.store.record import Record
from tests.season import LIFT, WARMUP_KG, _set, fill_season

DAY = date(2026, 10, 14)
NOW = datetime(2026, 10, 14, 12, 40)  # noqa: DTZ001 - a local time of day
AT = datetime(2026, 10, 14, 10, tzinfo=UTC)
ATHLETES = 5


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("squad") / "desk"
    made = opened(folder)
    fill_season(made, DAY, athletes=ATHLETES, weeks=4)
    made.close()
    return folder


def opened(folder: Path) -> Record:
    return Record(folder, "desk", lambda: AT)


@contextmanager
def copied(season: Path) -> Iterator[Record]:
    with TemporaryDirectory() as place:
        folder = Path(place) / "desk"
        folder.mkdir()
        shutil.copy(season / "record.sqlite", folder)
        record = opened(folder)
        yield record
        record.close()


def afresh(record: Record) -> SquadDay:
    with TemporaryDirectory() as nothing_kept:
        return squad_day(record, NOW, None, SquadBars(Path(nothing_kept)))


def athlete(n: int) -> str:
    return f"athlete-{n % ATHLETES:03d}"


def nth(record: Record, table: str, n: int) -> str:
    with record.database.read() as connection:
        ids = connection.exec_driver_sql(f"SELECT id FROM {table} ORDER BY id").scalars().all()
    return str(ids[n % len(ids)])


def new_set(record: Record, n: int, day: date = DAY, load_kg: float = WARMUP_KG) -> None:
    rows: dict[str, list[dict[str, Any]]] = {"sets": [], "reps": []}
    at = AT - (DAY - day)
    _set(rows, athlete(n), "rack 1", day, at, load_kg, 0.60 + (n % 40) / 100)
    rows["sets"][0]["session"] = 2  # the first one has its warm-up set already
    for table, made in rows.items():
        record.add_rows(table, made)


def older_set(record: Record, n: int) -> None:
    """One that another record of the machine brings later."""
    new_set(record, n, DAY - timedelta(days=1 + n % 20))


def faster_rep(record: Record, n: int) -> None:
    rep = {"set_id": nth(record, "sets", n), "number": 9, "status": "measured", "start_time_s": 20.0}
    rep |= {"end_time_s": 20.8, "decided_time_s": 21.0, "mean_velocity_m_s": 1.3, "displacement_m": 0.6}
    record.add_rows("reps", [rep | {"uncertainty_m_s": 0.01, "flags": [], "why": ""}])


def corrected(field: str, value: Callable[[int], Any]) -> Callable[[Record, int], None]:
    return lambda record, n: record.correct(nth(record, "sets", n), field, value(n), "Coach Minke Straten")


def strike(record: Record, n: int) -> None:
    """The first rep of a set, which is its fastest; sometimes it is taken back."""
    record.correct(nth(record, "reps", 3 * n), "struck", n % 4 != 3, "Coach Minke Straten")


def new_plan(record: Record, n: int) -> None:
    plan = {"lift": LIFT, "warmup_load_kg": 80.0, "athlete_id": athlete(n), "work_sets": 3}
    record.add_rows("plans", [plan])


WRITTEN: dict[str, Callable[[Record, int], None]] = {
    "new set": new_set,
    "older set": older_set,
    "faster rep": faster_rep,
    "moved set": corrected("athlete_id", athlete),
    "load": corrected("load_kg", lambda n: (60.0, 80.0, 62.5)[n % 3]),
    "lift": corrected("lift", lambda _: "deadlift"),
    "effort": corrected("full_effort", lambda n: bool(n % 2)),
    "struck": strike,
    "plan": new_plan,
    "match": lambda record, n: record.add_rows("matches", [{"day": DAY - timedelta(days=1 + n % 10)}]),
}


def erased(record: Record, n: int) -> None:
    """For good: whoever is gone cannot lift any more."""
    if n == 0:
        erase_athlete(record, athlete(1), DAY)


@pytest.mark.parametrize("seed", [1, 2])
def test_what_is_kept_equals_what_is_computed_afresh(season: Path, seed: int) -> None:
    rng = Random(seed)
    steps = [*WRITTEN, *rng.choices(list(WRITTEN), k=10)]
    rng.shuffle(steps)
    with copied(season) as record:
        desk = SquadDesk(record, lambda: NOW)
        assert desk.day() == afresh(record)
        for what in steps:
            WRITTEN[what](record, rng.randrange(400))
            assert desk.day() == afresh(record), what


@pytest.mark.parametrize("what", [*WRITTEN, "erased"])
def test_after_each_kind_of_writing_the_kept_answer_holds(season: Path, what: str) -> None:
    with copied(season) as record:
        desk = SquadDesk(record, lambda: NOW)
        desk.day()
        new_set(record, 0)  # from here on it is the kept sets that answer, not the file
        before = desk.day()
        for n in range(7):
            (WRITTEN | {"erased": erased})[what](record, 13 * n)
        assert desk.day() == afresh(record)
        assert desk.day() != before


def test_only_the_athlete_with_a_new_set_is_computed_anew(
    season: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    placed = []

    def counted(*given: Any) -> Any:
        placed.append(given[1].athlete_id)
        return place_bar(*given)

    monkeypatch.setattr(squad_bars, "place_bar", counted)
    with copied(season) as record:
        SquadDesk(record, lambda: NOW).day()  # keeps its answer beside the record
        assert sorted(placed) == [athlete(n) for n in range(ATHLETES)]
        placed.clear()
        desk = SquadDesk(record, lambda: NOW)
        desk.day()
        assert placed == []
        desk.get_ready()
        desk.get_ready()
        assert sorted(placed) == [athlete(n) for n in range(ATHLETES)]
        placed.clear()
        new_set(record, 2)
        desk.day()
        assert placed == [athlete(2)]
