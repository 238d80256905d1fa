"""Histories for the tests: one athlete's warm-up and working sets, week by week."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from station.squad.sets import SetObservation

DAY = date(2026, 10, 14)
LIFT = "back squat"


def weekly(
    values_m_s: Sequence[float], load_kg: float = 60.0, until: date = DAY, **more: str
) -> list[SetObservation]:
    """One warm-up set a week, the last one a week before `until`."""
    weeks = range(len(values_m_s), 0, -1)
    return [
        SetObservation("a", until - timedelta(weeks=w), LIFT, load_kg, v, **more)  # type: ignore[arg-type]
        for w, v in zip(weeks, values_m_s, strict=True)
    ]


def steady(sessions: int, wobble: float = 0.02) -> list[SetObservation]:
    """An athlete who moves 60 kg at 1.00 m/s and 95 kg at 0.60, one time a little more, one time less."""
    sets: list[SetObservation] = []
    for week in range(sessions, 0, -1):
        day, off = DAY - timedelta(weeks=week), wobble if week % 2 else -wobble
        sets += [SetObservation("a", day, LIFT, load, v + off) for load, v in ((60.0, 1.00), (95.0, 0.60))]
    return sets
