"""Years of a squad of 120, made up, in the order in which they would have been lifted: by day, everybody in turn.

`fill` writes them into a shared database with COPY, as staff's role, into the project's own tables. The server's
triggers number every row as they do those of an exchange, so that racks pull them like any other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np
import psycopg
from psycopg.sql import SQL, Identifier
from psycopg.types.json import Json

from station.store.ids import IdClock

ATHLETES, SESSIONS_A_YEAR, REPS_A_SET = 120, 80, 3
LIFTS = ("back squat", "bench press", "deadlift", "hip thrust")
LOADS_KG = (60.0, 90.0)
FIRST_RACKS = 20
# A rep's curve as long as that of the peak: most of what a rep weighs.
CURVE = np.column_stack([np.linspace(0.0, 1.0, 200)] * 2).astype("<f4").tobytes()

Row = dict[str, Any]


@dataclass
class _PastClock:
    """A clock that stands where it is put, and ids of that time."""

    now: datetime
    ids: IdClock = field(init=False)

    def __post_init__(self) -> None:
        self.ids = IdClock(lambda: int(self.now.timestamp() * 1000))

    def born(self, rack: str, after_s: float) -> Row:
        self.now += timedelta(seconds=after_s)
        return {"id": self.ids.new(), "born_at": self.now, "rack": rack}


def past(years: int, last_day: date) -> Iterator[dict[str, list[Row]]]:
    """The squad's rows and then each day's, by table, parents first; they end the day before `last_day`."""
    clock = _PastClock(datetime.combine(last_day - timedelta(days=365 * years + 1), time(9), UTC))
    athletes = [_athlete(clock, n) for n in range(ATHLETES)]
    yield {"athletes": athletes}
    for n, day in enumerate(_days(years, last_day)):
        clock.now = datetime.combine(day, time(9), UTC)
        yield _day(clock, day, n, [a["id"] for a in athletes])


def fill(url: str, years: int, last_day: date) -> None:
    """Write `years` years into a database that was set up and is empty.

    Args:
        url: as staff.
        last_day: the day after.
    """
    with psycopg.connect(url) as connection:
        for rows in past(years, last_day):
            for table, some in rows.items():
                _copy(connection, table, some)
            connection.commit()
        connection.autocommit = True
        connection.execute("VACUUM ANALYZE")  # what the server does by itself in five years


def _athlete(clock: _PastClock, n: int) -> Row:
    named = {"name": f"Athlete {n:03d}", "shirt_number": n, "group_name": _rack(n), "status": "full"}
    return clock.born("desk", 0.1) | named


def _rack(n: int) -> str:
    return f"rack {n % FIRST_RACKS}"


def _days(years: int, last_day: date) -> Iterator[date]:
    sessions = years * SESSIONS_A_YEAR
    for left in range(sessions, 0, -1):
        yield last_day - timedelta(days=1 + (left - 1) * 365 // SESSIONS_A_YEAR)


def _day(clock: _PastClock, day: date, n: int, athletes: list[str]) -> dict[str, list[Row]]:
    """The athletes take turns, so that nobody's sets lie side by side."""
    rows: dict[str, list[Row]] = {"sets": [], "reps": [], "set_ends": []}
    for load_kg in LOADS_KG:
        for place, athlete_id in enumerate(athletes):
            rack = _rack(place)
            one = clock.born(rack, 2.0) | {"athlete_id": athlete_id, "name_confirmed": True, "day": day}
            one |= {"session": 1, "lift": LIFTS[(n + place) % len(LIFTS)], "load_kg": load_kg, "kind": "work"}
            rows["sets"].append(one | {"sensor": "s", "engine_version": "bench"})
            mine = {"set_id": one["id"]}
            rows["reps"] += [clock.born(rack, 1.0) | mine | _measured(k) for k in range(REPS_A_SET)]
            rows["set_ends"].append(clock.born(rack, 1.0) | mine | {"reason": "rest"})
    return rows


def _measured(number: int) -> Row:
    velocity = 0.7 - 0.01 * number
    times = {"start_time_s": 1.0, "end_time_s": 2.0, "decided_time_s": 2.3}
    speeds = {
        "mean_velocity_m_s": velocity,
        "mean_propulsive_velocity_m_s": velocity,
        "peak_velocity_m_s": 1.2,
    }
    more = {"displacement_m": 0.6, "uncertainty_m_s": 0.01, "flags": [], "why": "", "curve": CURVE}
    return {"number": number, "status": "measured"} | times | speeds | more


def _copy(connection: psycopg.Connection, table: str, rows: list[Row]) -> None:
    columns = SQL(", ").join(map(Identifier, rows[0]))
    words = SQL("COPY {} ({}) FROM STDIN").format(Identifier(table), columns)
    with connection.cursor() as cursor, cursor.copy(words) as copy:
        for row in rows:
            copy.write_row([Json(value) if isinstance(value, list) else value for value in row.values()])
