"""No load where medical staff or today's answers forbid it, and nobody at the rack learns why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from station.capture.squad_facts import SquadFacts, facts_of
from station.squad.athletes import Athlete, TrainingStatus
from station.squad.roster import StatusChange
from station.squad.status import Restriction
from station.store.record import Record
from station.store.roster import status_rows
from tests.capture.bench import DAY, LIFT, WARMUP, Bench, Now

ASK = "Ask a coach before you load."


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path / "data" / "rack-1")  # apart from the records of other tests
    yield made
    made.rack.close()
    made.record.close()


def restrict(bench: Bench, **what: Any) -> None:
    """Medical staff set the status of athlete a, from today on."""
    restriction = Restriction(**what)
    change = StatusChange("a", restriction, DAY, "Dr. Weidholz")
    bench.record.add_rows("training_statuses", status_rows([change]))
    bench.rack.publish()


def say_it_hurts(bench: Bench) -> None:
    bench.record.add_rows("load_holds", [{"athlete_id": "a", "day": DAY, "holds": True}])
    bench.rack.publish()


def what_the_rack_says(bench: Bench) -> tuple[object, ...]:
    """Everything on the screen that could tell one reason from another."""
    view = bench.view
    return (view.say, view.suggestion, view.group[0].to_do, view.warmup_load_kg, view.history, view.coach)


def without_a_plan(bench: Bench) -> tuple[object, ...]:
    plans = bench.rack.setup.plans
    bench.rack.setup = bench.rack.session.setup = replace(bench.rack.setup, plans={})
    bench.rack.publish()
    said = what_the_rack_says(bench)
    bench.rack.setup = bench.rack.session.setup = replace(bench.rack.setup, plans=plans)
    bench.rack.publish()
    return said


def test_pain_a_status_and_no_plan_look_the_same(bench: Bench) -> None:
    assert bench.view.say == "as fast as you can control"
    no_plan = without_a_plan(bench)
    assert no_plan[0] == ASK
    restrict(bench, status=TrainingStatus.OUT)
    assert what_the_rack_says(bench) == no_plan
    restrict(bench, status=TrainingStatus.FULL)
    assert bench.view.say == "as fast as you can control"
    say_it_hurts(bench)
    assert what_the_rack_says(bench) == no_plan


def test_what_is_said_after_the_warm_up_set_takes_the_suggestion_away(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    assert bench.view.suggestion is not None
    assert bench.view.suggestion.load_kg == 95.0
    say_it_hurts(bench)
    assert bench.view.suggestion.sentence == ASK
    assert bench.view.suggestion.load_kg is None


def test_a_restriction_on_another_lift_leaves_this_one(bench: Bench) -> None:
    restrict(bench, status=TrainingStatus.MODIFIED, lifts=("deadlift",))
    assert bench.view.say == "as fast as you can control"
    restrict(bench, status=TrainingStatus.MODIFIED, lifts=("deadlift", LIFT))
    assert bench.view.say == ASK


def test_a_ceiling_lowers_what_is_suggested_and_loaded(bench: Bench) -> None:
    restrict(bench, status=TrainingStatus.MODIFIED, lifts=(LIFT,), ceiling_kg=80.0)
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    assert bench.view.suggestion is not None
    assert bench.view.suggestion.load_kg == 80.0
    bench.rack.switch_athlete("a")
    assert bench.view.load_kg == 80.0


def test_a_ceiling_below_the_warm_up_load_forbids_the_warm_up(bench: Bench) -> None:
    restrict(bench, status=TrainingStatus.MODIFIED, ceiling_kg=40.0)
    assert bench.view.say == ASK


def test_a_restriction_ends_with_its_last_day(bench: Bench) -> None:
    restrict(bench, status=TrainingStatus.OUT, until=DAY)
    assert bench.view.say == ASK
    bench.rack._today = lambda: DAY + timedelta(days=1)
    bench.rack.switch_athlete("a")
    assert bench.view.say == "as fast as you can control"


def test_a_rack_that_knows_nothing_forbids_nothing() -> None:
    facts = SquadFacts()
    assert (facts.restrictions("a", DAY), facts.answers_forbid_load("a", DAY)) == ((), False)
    assert facts.matches_played("a") is None


def test_those_who_did_not_play_are_compared_with_such_days_of_their_own(bench: Bench) -> None:
    matches = [DAY - timedelta(days=3), *(DAY - timedelta(weeks=w, days=3) for w in range(1, 11))]
    bench.record.add_rows("matches", [{"day": day} for day in matches])
    missed: list[date] = [m for n, m in enumerate(matches) if n % 2 == 0]
    bench.record.add_rows(
        "appearances", [{"athlete_id": "a", "day": m, "played": m not in missed} for m in matches]
    )
    assert facts_of(bench.record).matches_played("a") == frozenset(matches) - frozenset(missed)
    assert facts_of(bench.record).matches_played("b") is None
    bench.rack._today = lambda: DAY + timedelta(days=0)
    bench.rack.session = type(bench.rack.session)(bench.record, bench.rack.setup, DAY)
    bench.rack.publish()
    assert bench.view.coach is not None
    assert bench.view.coach.like_day == "MD+3, did not play"
    assert bench.view.coach.like_sessions == len(missed) - 1


def test_what_is_said_at_the_door_holds_at_the_rack(bench: Bench, tmp_path: Path) -> None:
    kiosk = Record(tmp_path / "data" / "kiosk", "kiosk", Now())
    kiosk.add_athletes([Athlete("a", "Aino", 7, "rack 1")])
    kiosk.add_rows("load_holds", [{"athlete_id": "a", "day": DAY, "holds": True}])
    bench.rack.publish()
    assert bench.view.say == ASK
    kiosk.add_rows("load_holds", [{"athlete_id": "a", "day": DAY, "holds": False}])
    bench.rack.publish()
    assert bench.view.say == "as fast as you can control"
    kiosk.close()
