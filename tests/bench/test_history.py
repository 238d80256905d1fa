"""One athlete's history of a lift out of five years of 120 athletes: promised under 10 ms. Never asserted."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest

from station.squad.athletes import Athlete
from station.store.record import Record
from station.store.tables import new_id

ATHLETES, YEARS, SESSIONS = 120, 5, 80
LIFTS = ("back squat", "bench press", "deadlift", "hip thrust")
TODAY = date(2026, 10, 14)


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    with closing(Record(tmp_path_factory.mktemp("data"), "rack 1", lambda: datetime.now(UTC))) as made:
        made.add_athletes([Athlete(f"a{n}", f"Athlete {n}", n) for n in range(ATHLETES)])
        for athlete in range(ATHLETES):
            sets: list[dict[str, Any]] = []
            reps: list[dict[str, Any]] = []
            for session in range(YEARS * SESSIONS):
                day = TODAY - timedelta(days=session * 365 // SESSIONS)
                born = {"born_at": datetime.combine(day, time(9), UTC)}
                for load in (60.0, 90.0):
                    one = born | {
                        "id": new_id(),
                        "athlete_id": f"a{athlete}",
                        "name_confirmed": True,
                        "day": day,
                    }
                    lift = LIFTS[session % len(LIFTS)]
                    sets.append(
                        one | {"session": 1, "lift": lift, "load_kg": load, "kind": "work", "sensor": "s"}
                    )
                    sets[-1]["engine_version"] = "bench"
                    reps += [
                        born
                        | {
                            "set_id": one["id"],
                            "number": n,
                            "status": "measured",
                            "start_time_s": 0.0,
                            "flags": [],
                        }
                        | {"end_time_s": 1.0, "decided_time_s": 1.0, "mean_velocity_m_s": 0.7 - 0.01 * n}
                        | {"displacement_m": 0.6}
                        for n in range(3)
                    ]
            made.add_rows("sets", sets)
            made.add_rows("reps", reps)
        yield made


def test_history_of_one_athlete_and_lift(record: Record, benchmark: Any) -> None:
    found = benchmark(record.observations, "a60", "back squat")
    assert len(found) == YEARS * SESSIONS // len(LIFTS) * 2
