"""Puts the invented club into a record, and plans what the simulated bar does for the group at the first rack."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import Any

from simulated_sensor.club import LIFT, Club, ClubSet
from simulated_sensor.planned_set import PlannedSet
from station.store.record import Record
from station.store.tables import new_id

DATA_NOTE = "demo data"
SENSOR_NAME = "Bar sensor 1"
STAFF = ("Coach Halvard Ruhme", "Coach Minke Straten", "Dr. Tomke Weidholz")
_SECONDS_A_REP = 3.0


def fill_record(record: Record, club: Club) -> list[str]:
    """Write squad, plans, matches and history; the athletes' ids, in the club's order."""
    ids = [new_id() for _ in club.athletes]
    record.add_rows(
        "athletes",
        [
            {"id": key, "name": a.name, "shirt_number": a.shirt_number, "group_name": f"rack {a.rack}"}
            | {"status": "full"}
            for key, a in zip(ids, club.athletes, strict=True)
        ],
    )
    record.add_rows("staff", [{"name": name} for name in STAFF])
    record.add_rows("matches", [{"day": day} for day in club.matches])
    record.add_rows(
        "plans",
        [
            {"athlete_id": key, "lift": LIFT, "warmup_load_kg": a.warmup_load_kg, "work_sets": 3}
            | {"planned_load_kg": a.planned_load_kg, "ceiling_kg": a.planned_load_kg + 5.0, "stop_loss": 0.20}
            for key, a in zip(ids, club.athletes, strict=True)
        ],
    )
    set_rows, rep_rows = _history(club, ids)
    record.add_rows("sets", set_rows)
    record.add_rows("reps", rep_rows)
    return ids


def _history(club: Club, ids: list[str]) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    set_rows: list[dict[str, Any]] = []
    rep_rows: list[dict[str, Any]] = []
    for n, one in enumerate(club.sets):
        begun = datetime.combine(one.day, time(10), UTC) + timedelta(seconds=n % 5000)
        set_id = new_id()
        set_rows.append(_set_row(club, one, ids[one.athlete], set_id, begun))
        rep_rows += [
            _rep_row(set_id, number, v, one, begun) for number, v in enumerate(one.velocities_m_s, 1)
        ]
    return set_rows, rep_rows


def _set_row(club: Club, one: ClubSet, athlete_id: str, set_id: str, begun: datetime) -> dict[str, Any]:
    return {
        "id": set_id,
        "born_at": begun,
        "rack": f"rack {club.athletes[one.athlete].rack}",
        "athlete_id": athlete_id,
        "name_confirmed": True,
        "day": one.day,
        "session": 1,
        "lift": LIFT,
        "load_kg": one.load_kg,
        "kind": one.kind,
        "sensor": SENSOR_NAME,
        "bar_kg": 20.0,
        "engine_version": "demo data",
    }


def _rep_row(set_id: str, number: int, velocity: float, one: ClubSet, begun: datetime) -> dict[str, Any]:
    start = _SECONDS_A_REP * number
    duration = one.range_of_motion_m / velocity
    return {
        "set_id": set_id,
        "born_at": begun + timedelta(seconds=start),
        "number": number,
        "status": "measured",
        "start_time_s": start,
        "end_time_s": start + duration,
        "decided_time_s": start + duration + 0.3,
        "mean_velocity_m_s": velocity,
        "mean_propulsive_velocity_m_s": round(velocity * 1.05, 4),
        "peak_velocity_m_s": round(velocity * 1.75, 4),
        "displacement_m": one.range_of_motion_m,
        "uncertainty_m_s": 0.01,
        "flags": [],
        "why": "",
    }


def bar_program(club: Club, rack: int, rounds: int = 1) -> list[PlannedSet]:
    """What the simulated bar does: the group's warm-up sets in lifting order, then their work sets, in rounds."""
    group = [a for a in club.athletes if a.rack == rack]
    warmups = [
        PlannedSet(
            LIFT,
            tuple(a.today_m_s(a.warmup_load_kg) * (1 - 0.03 * n) for n in range(3)),
            a.range_of_motion_m,
            longest_pause_s=1.0,
        )
        for a in group
    ]
    work = [
        PlannedSet(
            LIFT,
            tuple(max(a.today_m_s(0.95 * a.planned_load_kg), 0.3) * (1 - 0.06 * n) for n in range(4)),
            a.range_of_motion_m,
            longest_pause_s=1.0,
        )
        for _ in range(rounds)
        for a in group
    ]
    return warmups + work
