"""Two sessions of one athlete on one day are two, also at a rack that others never left alone for three hours."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from station.store.record import Record
from station.store.rows import NewRep, NewSet
from tests.capture.bench import DAY, LIFT, WARMUP, Bench, Now


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    yield made
    made.rack.close()
    made.record.close()


def later(bench: Bench, **pause: float) -> None:
    clock = bench.record._now
    assert isinstance(clock, Now)
    clock.now += timedelta(**pause)


def somebody_lifts(record: Record, athlete_id: str, speed: float = 1.1, load_kg: float = 95.0) -> None:
    set_id = record.begin_set(NewSet(athlete_id, True, DAY, 1, LIFT, load_kg, "work"))
    record.add_rep(set_id, NewRep(1, "measured", 1, 2, 2.3, speed, 0.9, 1.4, 0.6, 0.01))


def test_after_three_hours_without_an_own_set_the_warm_up_is_judged_anew(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    somebody_lifts(bench.record, "a")
    later(bench, hours=2)
    somebody_lifts(bench.record, "b")
    later(bench, hours=2)
    bench.rack.session.everything_changed()
    bench.rack.switch_athlete("a")
    view = bench.view
    assert (view.today, view.assessed, view.decision) == (None, None, None)
    assert view.group[0].to_do == "warm-up 60 kg"
    assert view.load_kg == 60.0
    assert len(view.history) == 11  # the morning's warm-up is history now
    bench.lift(WARMUP, at_s=900.0, seed=6)
    assert bench.view.assessed is not None
    assert bench.view.assessed.usual.sessions == 11
    own = [o for o in bench.record.observations("a", LIFT) if o.day == DAY]
    assert [o.session for o in own] == [1, 1, 2]


def test_a_shorter_pause_is_the_same_session(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    later(bench, hours=2)
    somebody_lifts(bench.record, "b")
    later(bench, minutes=50)
    bench.rack.session.everything_changed()
    bench.rack.switch_athlete("a")
    assert bench.view.assessed is not None
    assert bench.view.group[0].to_do == "set 1 of 3"


def test_another_lift_in_between_keeps_the_session(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    later(bench, hours=2)
    bench.record.begin_set(NewSet("a", True, DAY, 1, "bench press", 50.0, "work"))
    later(bench, hours=2)
    somebody_lifts(bench.record, "a")
    own = [o for o in bench.record.observations("a", LIFT) if o.day == DAY]
    assert [o.session for o in own] == [1, 1]


def test_at_another_rack_only_the_pause_counts(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    bench.record.rack = "rack 2"  # which counts its sessions for itself
    set_id = bench.record.begin_set(NewSet("a", True, DAY, 3, LIFT, 95.0, "work"))
    bench.record.add_rep(set_id, NewRep(1, "measured", 1, 2, 2.3, 0.6, 0.9, 1.4, 0.6, 0.01))
    own = [o for o in bench.record.observations("a", LIFT) if o.day == DAY]
    assert [o.session for o in own] == [1, 1]
