"""Which sets are the warm-up history: the first at the fixed load in each session, while still fresh."""

from __future__ import annotations

from datetime import date

from station.readiness.history import usual_warmup_load, warmup_sets
from station.squad.sets import SetObservation


def one(day: int, load: float, velocity: float = 1.0, session: int = 1) -> SetObservation:
    return SetObservation("a", date(2026, 10, day), "back squat", load, velocity, session)


def test_the_first_set_at_the_load_speaks_for_the_session() -> None:
    found = warmup_sets([one(1, 60, 1.01), one(1, 60, 1.05), one(2, 60, 0.99)], 60)
    assert [s.mean_velocity_m_s for s in found] == [1.01, 0.99]


def test_a_set_after_a_heavier_one_is_no_warm_up_set() -> None:
    assert warmup_sets([one(1, 100), one(1, 60)], 60) == []


def test_a_lighter_set_before_does_no_harm() -> None:
    assert len(warmup_sets([one(1, 20), one(1, 60)], 60)) == 1


def test_loads_within_two_percent_are_one_history() -> None:
    assert len(warmup_sets([one(1, 60), one(2, 61), one(3, 63)], 60)) == 2


def test_two_sessions_on_one_day_are_two() -> None:
    assert len(warmup_sets([one(1, 60, session=1), one(1, 60, session=2)], 60)) == 2


def test_the_warm_up_load_is_the_one_with_most_earlier_days_ties_to_the_heavier() -> None:
    sets = [one(1, 60), one(2, 60), one(1, 80), one(2, 80), one(3, 100)]
    assert usual_warmup_load(sets, date(2026, 10, 9)) == 80
    assert usual_warmup_load(sets, date(2026, 10, 1)) is None
