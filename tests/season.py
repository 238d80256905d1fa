"""A record with a whole squad's seasons in it, for the screens and the benches: invented, the same for a seed."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np

from simulated_sensor.club import make_club
from simulated_sensor.squad_days import answer_truth, jump_truth
from station.squad.athletes import Athlete
from station.squad.checkins import ITEM_KEYS
from station.store.ids import IdClock
from station.store.record import Record

LIFT = "back squat"
POSITIONS = ("forwards", "midfield", "backs", "goalkeepers")
WARMUP_KG = 60.0
_IDS = IdClock(lambda: 0)  # in the order of writing, and before any row of a record with a clock


def fill_season(record: Record, today: date, athletes: int = 46, weeks: int = 12, seed: int = 3) -> list[str]:
    """Squad, weekly match, a session and two jump days a week, daily check-ins; today is MD+3 and all is done.

    Returns:
        The athletes' ids.
    """
    rng = np.random.default_rng(seed)
    names = [a.name for a in make_club(today).athletes]
    squad = [
        Athlete(
            f"athlete-{n:03d}",
            names[n % len(names)] + (f" {n // len(names) + 1}" if n >= len(names) else ""),
            n + 1,
            f"rack {n % 8 + 1}",
        )
        for n in range(athletes)
    ]
    record.add_athletes(squad)
    record.add_rows(
        "roster_changes",
        [
            {"athlete_id": a.athlete_id, "field": "position", "value": {"to": POSITIONS[n % 4]}}
            | {"from_day": today - timedelta(weeks=weeks), "staff": ""}
            for n, a in enumerate(squad)
        ],
    )
    record.add_rows(
        "staff",
        [
            {"name": "Coach Minke Straten", "role": ""},
            {"name": "Dr. Tomke Weidholz", "role": "medical"},
        ],
    )
    matches = [today - timedelta(days=3 + 7 * w) for w in range(weeks)]
    record.add_rows("matches", [{"day": day} for day in matches])
    record.add_rows(
        "consents", [{"athlete_id": a.athlete_id, "given": True, "text_version": "1"} for a in squad]
    )
    plan = {"lift": LIFT, "warmup_load_kg": WARMUP_KG, "planned_load_kg": 90.0, "ceiling_kg": 100.0}
    record.add_rows("plans", [plan | {"athlete_id": a.athlete_id, "work_sets": 3} for a in squad])
    rows: dict[str, list[dict[str, Any]]] = {"sets": [], "reps": [], "jumps": [], "check_ins": []}
    for athlete in squad:
        _one(rows, athlete.athlete_id, athlete.group, today, weeks, rng)
    for table, made in rows.items():
        record.add_rows(table, made)
    return [a.athlete_id for a in squad]


def _one(
    rows: dict[str, list[dict[str, Any]]],
    key: str,
    rack: str,
    today: date,
    weeks: int,
    rng: np.random.Generator,
) -> None:
    speed, jumper, answerer = rng.normal(0.75, 0.06), jump_truth(rng), answer_truth(rng)
    for week in range(weeks, -1, -1):
        day = today - timedelta(weeks=week)
        at = datetime.combine(day, time(9), UTC)
        state = rng.normal(0.0, 0.035)
        for load, slower in ((WARMUP_KG, 0.0), (80.0, 0.2), (90.0, 0.3)):
            _set(rows, key, rack, day, at, load, speed + state - slower + rng.normal(0.0, 0.02))
        for ago, after in ((1, 2), (0, 3)):
            for height in jumper.day_m(rng, after):
                _jump(rows, key, day - timedelta(days=ago), at - timedelta(days=ago), float(height))
    for ago in range(min(7 * weeks, 60), -1, -1):
        if not ago or rng.random() < 0.85:
            answers = dict(zip(ITEM_KEYS, answerer.day(rng), strict=True))
            _check_in(rows, key, today - timedelta(days=ago), answers)


def _set(
    rows: dict[str, list[dict[str, Any]]],
    key: str,
    rack: str,
    day: date,
    at: datetime,
    load: float,
    best: float,
) -> None:
    set_id = _IDS.new()
    kind = "warm-up" if load == WARMUP_KG else "work"
    rows["sets"].append(
        {"id": set_id, "born_at": at, "rack": rack, "athlete_id": key, "name_confirmed": True, "day": day}
        | {"session": 1, "lift": LIFT, "load_kg": load, "kind": kind, "sensor": "s", "bar_kg": 20.0}
        | {"engine_version": "test"}
    )
    for n in range(3):
        v = round(best * (1 - 0.03 * n), 4)
        rows["reps"].append(
            {"set_id": set_id, "born_at": at, "number": n + 1, "status": "measured", "start_time_s": 3.0 * n}
            | {"end_time_s": 3.0 * n + 0.8, "decided_time_s": 3.0 * n + 1.1, "mean_velocity_m_s": v}
            | {"displacement_m": 0.6, "uncertainty_m_s": 0.01, "flags": [], "why": ""}
        )


def _jump(rows: dict[str, list[dict[str, Any]]], key: str, day: date, at: datetime, height: float) -> None:
    rows["jumps"].append(
        {"born_at": at, "athlete_id": key, "name_confirmed": True, "day": day, "height_m": height}
        | {"from_flight_m": height, "from_impulse_m": height, "uncertainty_m": 0.01, "depth_m": 0.3}
        | {"time_to_takeoff_s": 0.75, "flight_time_s": 0.5, "flags": [], "valid": True, "why": ""}
        | {"sensor": "belt", "engine_version": "test"}
    )


def _check_in(
    rows: dict[str, list[dict[str, Any]]], key: str, day: date, answers: dict[str, int], **more: Any
) -> None:
    rows["check_ins"].append(
        {"born_at": datetime.combine(day, time(5), UTC), "athlete_id": key, "day": day, "kind": "answered"}
        | answers
        | {"pains": [], "ill": False, "wants_talk": False, "note": ""}
        | more
    )
