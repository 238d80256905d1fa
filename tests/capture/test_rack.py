"""A rack fed with a simulated bar: every rep in the record and on the picture, under the right name."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from simulated_sensor.sessions import make_session_trace
from station.capture.link_news import LinkNews, SensorFacts
from station.capture.measurement import Measurement
from station.capture.rack import Rack
from station.capture.rack_setup import setup_from_record
from station.capture.rack_view import Decision, LiveTrace, RackView, RepStatus, SensorLine, TroubleLine
from station.capture.raw_keeper import RawKeeper
from station.readiness.results import Verdict
from station.squad.lifts import LIFTS
from station.store.errors import WriteFailed
from station.store.journal import left_over, set_of
from station.store.record import Record
from station.store.rows import NewRep
from tests.capture.bench import DAY, LIFT, WARMUP, WORK, Bench, Now, blocks, numbers


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    yield made
    made.rack.close()
    made.record.close()


def test_before_the_first_rep_the_screen_says_who_what_and_how(bench: Bench) -> None:
    view = bench.view
    assert view.athlete is not None
    assert view.athlete.name == "Aino"
    assert not view.name_confirmed
    assert (view.lift, view.load_kg) == (LIFT, 60.0)
    assert view.say == "as fast as you can control"
    assert any("Spotters" in caution for caution in view.cautions)
    assert view.set is None
    assert [t.to_do for t in view.group] == ["warm-up 60 kg", "warm-up 60 kg"]
    assert len(view.history) == 10


def test_every_rep_is_stored_and_shown_with_its_speed(bench: Bench) -> None:
    trace = bench.lift(WARMUP)
    assert numbers(bench.view) == pytest.approx([t.mean_velocity_m_s for t in trace.truth], abs=0.03)
    (row,) = bench.record.sets_on(DAY)
    stored = bench.record.reps_of(row.set_id)
    assert [r.mean_velocity_m_s for r in stored] == numbers(bench.view)
    assert [r.number for r in stored] == [1, 2, 3]


def test_a_rep_is_in_the_record_before_any_picture_of_it(bench: Bench) -> None:
    seen: list[int] = []
    show = bench.rack._show

    def check(item: RackView | LiveTrace) -> None:
        if isinstance(item, RackView) and item.set is not None:
            stored = {r.rep_id for r in bench.record.reps_of(item.set.set_id)}
            assert {r.rep_id for r in item.set.reps} <= stored
            seen.append(len(item.set.reps))
        show(item)

    bench.rack._show = check
    bench.lift(WARMUP)
    assert max(seen) == 3


def test_when_the_set_is_over_today_stands_in_the_usual_range_with_a_suggestion(bench: Bench) -> None:
    bench.lift(WARMUP)
    view = bench.view
    assert view.set is not None
    assert not view.set.is_open
    assert view.today is not None
    assert view.assessed is not None
    assert view.assessed.verdict is Verdict.AS_USUAL
    assert view.suggestion is not None
    assert view.suggestion.load_kg == 95.0
    assert view.next_athlete_id == "b"


def test_no_verdict_is_given_while_the_warm_up_set_is_open(bench: Bench) -> None:
    bench.lift(WARMUP)
    open_views = [v for v in bench.views if v.set is not None and v.set.is_open]
    assert open_views
    assert all(v.today is None and v.suggestion is None for v in open_views)


def test_a_slow_day_brings_a_lower_load_and_the_decision_is_kept(bench: Bench) -> None:
    bench.rack.switch_athlete("b")
    bench.lift(WARMUP)
    suggestion = bench.view.suggestion
    assert suggestion is not None
    assert suggestion.load_kg is not None
    assert suggestion.load_kg < 95.0
    bench.rack.sign_in("Coach")
    bench.rack.decide(Decision.KEEP_PLAN)
    assert bench.view.decision is Decision.KEEP_PLAN
    assert bench.view.load_kg == 95.0


def test_reps_before_anybody_confirms_are_the_proposed_athletes_unconfirmed(bench: Bench) -> None:
    bench.lift(WARMUP, WARMUP)
    first, second = bench.record.sets_on(DAY)
    assert (first.athlete_id, first.name_confirmed) == ("a", False)
    assert (second.athlete_id, second.name_confirmed) == ("b", False)


def test_a_touch_confirms_the_name(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    (row,) = bench.record.sets_on(DAY)
    assert row.name_confirmed


def test_a_set_under_the_wrong_name_moves_with_its_reps(bench: Bench) -> None:
    bench.lift(WARMUP)
    assert bench.view.set is not None
    bench.rack.name_set(bench.view.set.set_id, "b")
    today = [o for o in bench.record.observations("b", LIFT) if o.day == DAY]
    assert len(today) == 1
    assert not [o for o in bench.record.observations("a", LIFT) if o.day == DAY]
    bench.rack.undo()
    assert [o for o in bench.record.observations("a", LIFT) if o.day == DAY]


def test_a_set_may_start_unnamed(bench: Bench) -> None:
    bench.rack.switch_athlete(None)
    bench.lift(WARMUP)
    (row,) = bench.record.sets_on(DAY)
    assert row.athlete_id is None
    assert bench.view.athlete is None
    bench.rack.name_set(row.set_id, "a")
    assert bench.record.sets_on(DAY)[0].athlete_id == "a"


def test_a_struck_rep_leaves_best_and_loss(bench: Bench) -> None:
    bench.lift(WARMUP)
    assert bench.view.set is not None
    best = bench.view.set.reps[0]
    bench.rack.strike_rep(best.rep_id, True)
    assert bench.view.set.reps[0].status is RepStatus.STRUCK
    assert bench.view.set.best_m_s == bench.view.set.reps[1].mean_velocity_m_s
    bench.rack.undo()
    assert bench.view.set.best_m_s == best.mean_velocity_m_s


def test_velocity_loss_reaches_the_stop_in_a_work_set(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.rack.set_load(95.0)
    bench.lift(WORK)
    view = bench.view.set
    assert view is not None
    assert view.kind == "work"
    assert view.velocity_loss == pytest.approx(1 - 0.44 / 0.60, abs=0.05)
    assert view.stop_reached


def test_a_set_without_full_effort_is_kept_but_not_judged(bench: Bench) -> None:
    bench.lift(WARMUP)
    assert bench.view.set is not None
    bench.rack.mark_effort(bench.view.set.set_id, full=False)
    assert bench.view.assessed is None
    assert bench.view.set.not_full_effort


def test_load_and_lift_of_an_open_set_are_corrected(bench: Bench) -> None:
    trace = make_session_trace([WARMUP], seed=5)
    for block in blocks(trace):
        bench.rack.samples(block)
        if bench.view.set is not None and bench.view.set.reps:
            break
    bench.rack.set_load(62.5)
    assert bench.record.sets_on(DAY)[0].load_kg == 62.5
    bench.rack.undo()
    assert bench.record.sets_on(DAY)[0].load_kg == 60.0
    assert bench.view.load_kg == 60.0


def test_raw_samples_of_the_set_are_kept_with_a_checksum(bench: Bench) -> None:
    bench.lift(WARMUP)
    (row,) = bench.record.sets_on(DAY)
    files = list((bench.record.database.folder / "raw").glob("*.parquet"))
    assert [set_of(f) for f in files] == [row.set_id]


def test_a_rep_the_disk_refuses_waits_and_is_not_painted(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = bench.record.add_rep
    full = True

    def add_rep(set_id: str, rep: NewRep) -> str:
        if full:
            raise WriteFailed("rep", "disk is full")
        return real(set_id, rep)

    monkeypatch.setattr(bench.record, "add_rep", add_rep)
    bench.lift(WARMUP)
    assert bench.view.set is None or not bench.view.set.reps
    assert any(t.kind == "disk" for t in bench.view.troubles)
    full = False
    bench.rack.retry()
    assert bench.view.set is not None
    assert len(bench.view.set.reps) == 3
    assert not any(t.kind == "disk" for t in bench.view.troubles)


def test_a_sensor_that_counts_anew_starts_a_new_clock_in_the_same_session(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    bench.rack.switch_athlete("b")
    bench.lift(WARMUP, seed=6, at_s=900.0)
    assert [s.athlete_id for s in bench.record.sets_on(DAY)] == ["a", "b"]
    assert [len(bench.record.reps_of(s.set_id)) for s in bench.record.sets_on(DAY)] == [3, 3]


def test_link_news_are_shown_and_the_sensor_is_claimed(bench: Bench) -> None:
    line = SensorLine("bar sensor", "streaming", streaming=True, battery_percent=12)
    bench.rack.link(LinkNews(line, address="F0:00:00:00:00:01"))
    assert bench.view.sensor == line
    assert any("12 %" in t.words for t in bench.view.troubles)
    assert bench.record.claimed_sensor() == ("bar sensor", "F0:00:00:00:00:01")


def test_a_sensor_book_that_cannot_be_written_is_said_beside_a_sensor_that_streams(bench: Bench) -> None:
    line = SensorLine("bar sensor", "streaming", streaming=True, battery_percent=None)
    held = TroubleLine("book", "The sensor book cannot be changed.", "Nothing measured is lost.")
    bench.rack.link(LinkNews(line, book=held))
    assert bench.view.troubles == (held,)
    assert bench.view.sensor.streaming
    bench.rack.link(LinkNews(line))
    assert bench.view.troubles == ()


def test_a_low_battery_is_said_before_a_set_and_not_in_it(bench: Bench) -> None:
    line = SensorLine("bar sensor", "streaming", streaming=True, battery_percent=12)
    bench.rack.link(LinkNews(line, address="F0:00:00:00:00:01"))
    bench.lift(WARMUP)
    said = {
        view.set is not None and view.set.is_open: any(t.kind == "battery" for t in view.troubles)
        for view in bench.views
        if view.sensor == line
    }
    assert said == {False: True, True: False}


def test_an_empty_record_gives_an_empty_rack_that_still_measures(tmp_path: Path) -> None:
    record = Record(tmp_path, "rack 9", Now())
    views: list[RackView] = []

    def keep(item: RackView | LiveTrace) -> None:
        if isinstance(item, RackView):
            views.append(item)

    measurement = Measurement(LIFTS[LIFT])
    rack = Rack(
        record, setup_from_record(record), measurement, RawKeeper(tmp_path / "raw"), keep, lambda: DAY
    )
    for block in blocks(make_session_trace([WARMUP], seed=5)):
        rack.samples(block)
    rack.close()
    (row,) = record.sets_on(DAY)
    assert row.athlete_id is None
    assert len(record.reps_of(row.set_id)) == 3
    assert views[-1].suggestion is None or views[-1].suggestion.load_kg is None
    record.close()


def first_reps(bench: Bench, count: int) -> None:
    """Lift until so many reps are shown, and stop in the middle of the set."""
    for block in blocks(make_session_trace([WARMUP], seed=5)):
        bench.rack.samples(block)
        if bench.view.set is not None and len(bench.view.set.reps) == count:
            bench.rack.tick(float(block.host_time_s[-1]))
            return
    raise AssertionError("too few reps")


def test_after_a_power_cut_the_open_set_goes_on_under_the_same_name(bench: Bench, tmp_path: Path) -> None:
    bench.rack.switch_athlete("b")
    first_reps(bench, 2)
    # The power goes: nothing is closed, only the lock of the dead process is gone.
    bench.record.close()
    record = Record(tmp_path, "rack 1", Now())
    raw = RawKeeper(tmp_path / "raw")
    assert len(left_over(tmp_path / "raw")) == 1
    raw.recover(record)
    views: list[RackView] = []
    measurement = Measurement(LIFTS[LIFT], SensorFacts(200.0, 156.9))
    setup = setup_from_record(record)
    again = Rack(
        record,
        setup,
        measurement,
        raw,
        lambda v: views.append(v) if isinstance(v, RackView) else None,
        lambda: DAY,
    )
    view = views[-1]
    assert view.athlete is not None
    assert view.athlete.name == "Bela"
    assert view.set is not None
    assert view.set.is_open
    assert [r.number for r in view.set.reps] == [1, 2]
    assert any(t.kind == "restart" for t in view.troubles)
    for block in blocks(make_session_trace([WARMUP], seed=6), 500.0):
        again.samples(block)
    (row,) = record.sets_on(DAY)
    assert [r.number for r in record.reps_of(row.set_id)] == [1, 2, 3, 4, 5]
    again.close()
    assert len(list((tmp_path / "raw").glob("*.parquet"))) == 2
    record.close()
    bench.record = Record(tmp_path, "rack 1", Now())
    bench.rack.record = bench.record


def test_a_folder_that_refuses_raw_samples_does_not_end_capture(bench: Bench, tmp_path: Path) -> None:
    (tmp_path / "raw").write_text("a file in the way")
    bench.lift(WARMUP)
    assert len(numbers(bench.view)) == 3
    assert any(t.kind == "raw" for t in bench.view.troubles)


def test_another_day_is_another_session_and_yesterday_is_history(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    bench.rack._today = lambda: DAY + timedelta(days=7)
    bench.rack.switch_athlete("a")
    assert bench.view.today is None
    assert bench.view.history[-1].day == DAY
    assert bench.view.group[0].to_do == "warm-up 60 kg"


def test_a_guest_lifts_and_is_kept(bench: Bench) -> None:
    bench.rack.add_guest()
    bench.lift(WARMUP)
    assert bench.view.athlete is not None
    assert bench.view.athlete.name == "Guest 1"
    (row,) = bench.record.sets_on(DAY)
    assert {a.athlete_id: a.name for a in bench.record.athletes()}[row.athlete_id or ""] == "Guest 1"
    bench.rack.add_guest()
    assert bench.view.athlete.name == "Guest 2"


def test_a_speed_far_off_the_own_line_asks_about_the_load(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.rack.set_load(95.0)
    seen: list[str] = []
    bench.lift(WARMUP)
    seen = [t.words for view in bench.views for t in view.troubles]
    assert any(words.startswith("Load right?") for words in seen)


def test_an_ordinary_speed_asks_nothing(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    assert not [t for view in bench.views for t in view.troubles if t.kind == "load"]
