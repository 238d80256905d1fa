"""One athlete today, put together for the rack: also of somebody who has never lifted here."""

from __future__ import annotations

from datetime import date

from station.capture.rack_view import RackPlan
from station.capture.today import Setting, athlete_today
from station.readiness.plates import PlateSet
from station.squad.lifts import lift_named


def test_somebody_with_a_plan_and_no_set_yet_has_a_warmup_load_and_no_history() -> None:
    plan = RackPlan("a", "back squat", 60.0, 95.0, 100.0)
    found = athlete_today(
        plan, lift_named("back squat"), [], Setting(date(2026, 10, 14), 1, (), PlateSet(((20.0, 2),)))
    )
    assert (found.warmup_load_kg, found.history, found.today, found.assessed) == (60.0, (), None, None)
