"""What people do at a rack: names are confirmed, everything can be taken back, and a power cut changes nobody."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path

import numpy as np
import pytest

from drivers.samples import SampleBlock
from station.capture.desk_news import DeskNews
from station.capture.link_news import SensorFacts
from station.capture.measurement import Measurement
from station.capture.rack import Rack
from station.capture.rack_setup import setup_from_record
from station.capture.rack_view import Decision, RackView, RepStatus, ScreenSettings
from station.capture.raw_keeper import RawKeeper
from station.capture.rest_check import RestCheck
from station.capture.review_desk import ReviewDesk
from station.capture.roster_desk import RosterDesk, TableKind
from station.motion.calibration import Calibration
from station.screens.wording import today_words
from station.squad.lifts import LIFTS
from station.squad.table_text import Row
from station.store.effective import sets_on
from station.store.nearby import DESK_TABLES, take_over
from station.store.rack_things import COLLARS, SENSOR, Thing, thing_row
from station.store.record import Record
from station.store.rows import NewRep
from tests.capture.bench import DAY, LIFT, WARMUP, Bench, Now, blocks, session_trace


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path / "club" / "rack-1")
    yield made
    made.rack.close()
    made.record.close()


def lift_until(bench: Bench, reps: int, at_s: float = 100.0, seed: int = 5) -> float:
    """Feed the bench until a set has so many reps; the host's time then."""
    for block in blocks(session_trace((WARMUP,), seed), at_s):
        bench.rack.samples(block)
        if bench.view.set is not None and len(bench.view.set.reps) == reps:
            return float(block.host_time_s[-1])
    raise AssertionError("too few reps")


def rested(size_m_s2: float, start_s: float, seconds: float = 2.5) -> Iterator[SampleBlock]:
    """A sensor that lies still and reads so much gravity."""
    for n in range(round(seconds * 20)):
        seq = np.arange(10 * n, 10 * (n + 1))
        acc = np.tile([0.0, 0.0, size_m_s2], (10, 1))
        yield SampleBlock(seq, np.full(10, start_s + 0.05 * n), acc, np.zeros((10, 3)))


def kinds(view: RackView) -> list[str]:
    return [trouble.kind for trouble in view.troubles]


# -- names -----------------------------------------------------------------------------------------------------


def test_a_touch_on_the_proposed_name_in_a_set_confirms_it_and_the_set_goes_on(bench: Bench) -> None:
    lift_until(bench, 1)
    assert not bench.view.set_name_confirmed
    bench.rack.switch_athlete("a")
    assert bench.view.name_confirmed
    assert bench.view.set_name_confirmed
    assert bench.view.set is not None
    assert bench.view.set.is_open
    (row,) = bench.record.sets_on(DAY)
    assert row.name_confirmed
    bench.rack.undo()
    (row,) = bench.record.sets_on(DAY)
    assert (row.athlete_id, row.name_confirmed) == ("a", False)


def test_a_touch_on_the_name_that_lifts_ends_no_set(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    lift_until(bench, 2)
    bench.rack.switch_athlete("a")
    assert bench.view.set is not None
    assert bench.view.set.is_open


def test_who_has_nothing_left_to_do_is_not_proposed(bench: Bench) -> None:
    plans = {key: replace(plan, work_sets=0) for key, plan in bench.rack.setup.plans.items() if key[0] == "b"}
    bench.rack._use_setup(replace(bench.rack.setup, plans=bench.rack.setup.plans | plans))
    bench.rack.session.everything_changed()
    bench.rack.switch_athlete("b")
    bench.lift(WARMUP)
    assert bench.view.next_athlete_id == "a"
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP, at_s=300.0)
    assert [tile.to_do for tile in bench.view.group] == ["set 1 of 3", "done"]
    assert bench.view.next_athlete_id == "a"


# -- everything can be taken back --------------------------------------------------------------------------------


def test_a_decision_is_taken_back_and_the_record_says_so(bench: Bench) -> None:
    bench.rack.switch_athlete("b")
    bench.lift(WARMUP)
    before = bench.view.load_kg
    bench.rack.decide(Decision.CHANGE, 82.5)
    assert (bench.view.decision, bench.view.load_kg) == (Decision.CHANGE, 82.5)
    bench.rack.decide(Decision.USE)
    bench.rack.undo()
    assert (bench.view.decision, bench.view.decided_kg) == (Decision.CHANGE, 82.5)
    bench.rack.undo()
    assert (bench.view.decision, bench.view.load_kg) == (None, before)
    with bench.record.database.read() as connection:
        written = connection.exec_driver_sql("SELECT decision FROM decisions ORDER BY id").scalars().all()
    assert written == ["change", "use", "change", "taken back"]


def test_turn_lift_and_settings_go_back_one_by_one(bench: Bench) -> None:
    bench.rack.switch_athlete("b")
    bench.rack.set_lift("bench press")
    bench.rack.use_settings(ScreenSettings(scale_percent=150))
    bench.rack.give_badge("AB12", "b")
    assert dict(bench.view.badges) == {"AB12": "b"}
    bench.rack.undo()
    assert bench.view.badges == ()
    bench.rack.undo()
    assert bench.view.settings.scale_percent == 100
    bench.rack.undo()
    assert (bench.view.lift, bench.view.load_kg) == (LIFT, 60.0)
    assert bench.view.athlete is not None
    assert bench.view.athlete.name == "Bela"
    bench.rack.undo()
    assert bench.view.athlete.name == "Aino"
    assert not bench.view.can_undo


def test_a_set_ended_by_mistake_goes_on(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    at_s = lift_until(bench, 2)
    bench.rack.end_set()
    bench.rack.undo()
    assert bench.view.set is not None
    assert bench.view.set.is_open
    bench.lift(WARMUP, at_s=at_s + 5.0, seed=6)
    (row,) = bench.record.sets_on(DAY)
    assert [rep.number for rep in bench.record.reps_of(row.set_id)] == [1, 2, 3, 4, 5]


def test_a_touch_on_the_wrong_tile_in_a_set_is_taken_back_with_the_set(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    lift_until(bench, 2)
    bench.rack.switch_athlete("b")
    assert bench.view.set is None
    bench.rack.undo()
    assert bench.view.athlete is not None
    assert bench.view.athlete.name == "Aino"
    assert bench.view.set is not None
    assert (bench.view.set.is_open, len(bench.view.set.reps)) == (True, 2)


def test_once_a_set_has_begun_undo_changes_nobody_at_the_bar(bench: Bench) -> None:
    bench.rack.switch_athlete("b")
    lift_until(bench, 1)
    bench.rack.undo()
    assert bench.view.athlete is not None
    assert bench.view.athlete.name == "Bela"
    assert not bench.view.can_undo


def test_a_guest_added_by_mistake_is_gone(bench: Bench) -> None:
    bench.rack.add_guest()
    assert len(bench.view.group) == 3
    bench.rack.undo()
    assert [tile.name for tile in bench.view.group] == ["Aino", "Bela"]
    assert [athlete.name for athlete in setup_from_record(bench.record).squad] == ["Aino", "Bela"]


def test_the_wrong_lift_of_an_open_set_goes_back(bench: Bench) -> None:
    lift_until(bench, 1)
    bench.rack.set_lift("front squat")
    bench.rack.undo()
    assert bench.view.lift == LIFT
    assert [row.lift for row in bench.record.sets_on(DAY)] == [LIFT]


def test_a_set_moved_by_mistake_is_the_first_athletes_again_with_the_picture(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    lift_until(bench, 1)
    assert bench.view.set is not None
    bench.rack.name_set(bench.view.set.set_id, "b")
    assert bench.view.athlete is not None
    assert bench.view.athlete.name == "Bela"
    bench.rack.undo()
    assert bench.view.athlete.name == "Aino"
    assert [row.athlete_id for row in bench.record.sets_on(DAY)] == ["a"]


# -- load, stop and target -----------------------------------------------------------------------------------------


def test_the_planned_and_the_last_used_load_are_known_before_the_warm_up(bench: Bench) -> None:
    assert (bench.view.planned_kg, bench.view.last_used_kg) == (95.0, 95.0)
    bench.lift(WARMUP)
    assert bench.view.last_used_kg == 60.0


def test_correcting_earlier_sets_leaves_another_load_on_the_bar(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    (row,) = bench.record.sets_on(DAY)
    bench.rack.set_load(95.0)
    bench.rack.correct_from(row.set_id, "load_kg", 62.5)
    assert bench.view.load_kg == 95.0


def test_the_question_about_the_load_stays_until_somebody_answers_it(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.rack.set_load(95.0)  # which this athlete moves at 0.58 m/s, and not at 0.95
    bench.lift(WARMUP)
    assert any(t.words.startswith("Load right?") for t in bench.view.troubles)
    (row,) = bench.record.sets_on(DAY)
    bench.rack.correct_from(row.set_id, "load_kg", 60.0)
    assert "load" not in kinds(bench.view)
    assert bench.view.assessed is not None
    assert bench.view.set is not None
    assert bench.view.set.kind == "warm-up"  # as which it counts now, so that the suggestion can be answered
    bench.rack.decide(Decision.USE)
    assert bench.view.decision is Decision.USE


def test_a_coach_chooses_stop_and_target_and_both_stay(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.rack.use_goal(0.15, (0.5, 0.6))
    assert (bench.view.stop_loss, bench.view.target_band_m_s) == (0.15, (0.5, 0.6))
    kept = setup_from_record(bench.record).plans["a", LIFT]
    assert (kept.stop_loss, kept.target_band_m_s, kept.planned_load_kg) == (0.15, (0.5, 0.6), 95.0)
    bench.rack.undo()
    assert setup_from_record(bench.record).plans["a", LIFT].stop_loss == 0.2
    with pytest.raises(ValueError, match="between 10 and 40"):
        bench.rack.use_goal(0.05, None)


def test_a_stop_from_elsewhere_that_makes_no_sense_is_none(bench: Bench) -> None:
    plan = {"athlete_id": "a", "lift": LIFT, "warmup_load_kg": 60.0, "planned_load_kg": 95.0}
    bench.record.add_rows("plans", [plan | {"ceiling_kg": 100.0, "work_sets": 3, "stop_loss": 0.9}])
    assert setup_from_record(bench.record).plans["a", LIFT].stop_loss is None


def test_collars_and_the_sensor_count_in_what_is_loaded(bench: Bench) -> None:
    things = [Thing(COLLARS, "spring collars", "kg", 0.5), Thing(SENSOR, "bar sensor", "kg", 0.04)]
    bench.record.add_rows("equipment", [thing_row(thing) for thing in things])
    plates = setup_from_record(bench.record).plates
    assert plates.empty_kg == pytest.approx(20.54)


# -- sessions and power cuts -----------------------------------------------------------------------------------------


def started_again(bench: Bench, folder: Path, day: date = DAY) -> tuple[Rack, list[RackView]]:
    """The power went and came back: nothing was closed."""
    bench.record.close()
    bench.record = Record(folder / "club" / "rack-1", "rack 1", Now())
    views: list[RackView] = []
    rack = Rack(
        bench.record,
        setup_from_record(bench.record),
        Measurement(LIFTS[LIFT], SensorFacts(200.0, 156.9)),
        RawKeeper(bench.record.database.folder / "raw"),
        lambda item: views.append(item) if isinstance(item, RackView) else None,
        lambda: day,
    )
    bench.rack = rack
    return rack, views


def test_after_a_power_cut_the_same_people_stand_at_the_same_bar(bench: Bench, tmp_path: Path) -> None:
    bench.record.add_rows("staff", [{"name": "Coach Minke"}])
    bench.rack._use_setup(replace(bench.rack.setup, staff=("Coach Minke",)))
    bench.rack.sign_in("Coach Minke")
    bench.rack.add_guest()
    bench.rack.switch_athlete("b")
    bench.lift(WARMUP)
    bench.rack.decide(Decision.CHANGE, 82.5)
    before = bench.view
    _, views = started_again(bench, tmp_path)
    after = views[-1]
    assert [tile.name for tile in after.group] == ["Aino", "Bela", "Guest 1"]
    for name in (
        "athlete",
        "name_confirmed",
        "next_athlete_id",
        "load_kg",
        "decision",
        "decided_kg",
        "staff",
    ):
        assert getattr(after, name) == getattr(before, name), name


def test_whoever_has_a_pin_signs_in_again_after_a_power_cut(bench: Bench, tmp_path: Path) -> None:
    bench.record.add_rows("staff", [{"name": "Coach Minke"}])
    bench.rack._use_setup(replace(bench.rack.setup, staff=("Coach Minke",)))
    bench.rack.sign_in("Coach Minke")
    bench.rack.set_pin("1234")
    _, views = started_again(bench, tmp_path)
    assert views[-1].staff is None


def test_another_day_begins_with_the_first_athlete(bench: Bench, tmp_path: Path) -> None:
    bench.rack.switch_athlete("b")
    _, views = started_again(bench, tmp_path, DAY + timedelta(days=1))
    assert views[-1].athlete is not None
    assert views[-1].athlete.name == "Aino"


def test_a_new_day_shows_the_cautions_and_asks_for_a_name_though_nobody_touches_anything(
    bench: Bench,
) -> None:
    bench.rack.sign_in("Coach Minke")
    bench.lift(WARMUP)
    assert bench.view.cautions == ()
    bench.rack._today = lambda: DAY + timedelta(days=1)
    bench.rack.tick(10_000.0)
    assert bench.view.staff is None
    assert bench.view.set is None
    assert any("Collars" in caution for caution in bench.view.cautions)


def test_the_first_lift_that_can_pin_somebody_shows_its_cautions_in_mid_session(bench: Bench) -> None:
    bench.rack.switch_athlete(None)
    bench.rack.set_lift("deadlift")
    bench.lift(WARMUP)
    bench.rack.end_set()
    assert bench.view.cautions == ()
    bench.rack.set_lift("bench press")
    assert any("Spotters" in caution for caution in bench.view.cautions)


def test_what_the_desk_changes_reaches_a_rack_that_runs(bench: Bench, tmp_path: Path) -> None:
    bench.rack._renew = DeskNews(bench.record)
    bench.rack.add_guest()
    guest = bench.view.group[2]
    desk = Record(tmp_path / "club" / "desk", "desk", Now())
    desk.add_athletes([a for a in bench.rack.setup.squad if a.athlete_id in ("a", guest.athlete_id)])
    table = RosterDesk(desk, lambda: DAY)
    rows = [
        Row(row.line, row.cells | {"name": "Cleo Dahlmann"}, row.key) if row["name"] == "Guest 1" else row
        for row in table.rows(TableKind.ROSTER)
    ]
    table.apply(TableKind.ROSTER, table.preview(TableKind.ROSTER, rows, DAY), DAY)
    plan = Row(
        1, {"who": "Aino", "lift": LIFT, "warmup_load_kg": "60", "planned_load_kg": "105", "ceiling_kg": ""}
    )
    table.apply(TableKind.PLANS, table.preview(TableKind.PLANS, [plan], DAY), DAY)
    desk.add_rows("matches", [{"day": DAY - timedelta(days=3)}])
    desk.close()
    bench.rack.switch_athlete("a")
    bench.rack.tick(10_000.0)
    assert [tile.name for tile in bench.view.group] == ["Aino", "Bela", "Cleo Dahlmann"]
    assert bench.view.planned_kg == 105.0
    assert bench.view.coach is not None
    assert bench.view.coach.like_day == "MD+3"
    shown = len(bench.views)
    bench.rack.tick(20_000.0)
    assert len(bench.views) == shown  # nothing new, nothing shown


def test_what_the_review_corrects_reaches_a_rack_that_runs(bench: Bench, tmp_path: Path) -> None:
    bench.rack._renew = DeskNews(bench.record)
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    bench.rack.end_set()
    history = bench.record.observations("a", LIFT)
    desk = Record(tmp_path / "club" / "review", "review", Now())
    take_over(desk, DESK_TABLES)
    review = ReviewDesk(desk, lambda: datetime.combine(DAY, time(12)))  # local time
    desk.add_rows("staff", [{"name": "Coach Straten", "role": ""}])
    review.signed.sign_in("Coach Straten")
    with desk.database.read() as connection:
        today = [row.set_id for row in sets_on(connection, DAY)]
    rep = NewRep(1, "measured", 1.0, 1.6, 1.9, 0.99)
    review.accept(today[0], [rep], "a better engine")
    desk.close()
    shown = len(bench.views)
    bench.rack.tick(10_000.0)
    assert len(bench.views) > shown
    assert bench.record.observations("a", LIFT)[-1].mean_velocity_m_s == 0.99
    assert bench.record.observations("a", LIFT)[:-1] == history[:-1]


# -- what does not count -----------------------------------------------------------------------------------------


def test_a_set_at_another_depth_is_kept_and_shown_and_neither_judged_nor_history(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(replace(WARMUP, range_of_motion_m=0.50))
    view = bench.view
    assert view.set is not None
    assert view.set.different_depth
    assert view.today is not None
    assert not view.today.counted
    assert (view.assessed, view.suggestion) == (None, None)
    assert today_words(view) == ("not judged", "different depth: out of the history")
    bench.rack._today = lambda: DAY + timedelta(days=7)
    bench.rack.switch_athlete("a")
    assert not bench.view.history[-1].counted
    assert bench.view.usual_at_warmup is not None
    assert bench.view.usual_at_warmup.sessions == 10


def test_within_a_tenth_it_is_the_usual_depth(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(replace(WARMUP, range_of_motion_m=0.57))
    assert bench.view.set is not None
    assert not bench.view.set.different_depth
    assert bench.view.assessed is not None


def test_a_set_without_full_effort_is_shown_as_not_judged_and_counts_again_with_undo(bench: Bench) -> None:
    bench.lift(WARMUP)
    assert bench.view.set is not None
    bench.rack.mark_effort(bench.view.set.set_id, full=False)
    assert today_words(bench.view) == ("not judged", "not full effort: out of the history")
    assert bench.view.today is not None
    bench.rack.undo()
    assert bench.view.assessed is not None


# -- the sensor at rest ----------------------------------------------------------------------------------------------


def test_a_calibrated_sensor_that_misses_gravity_is_said_to_fit_its_calibration_no_longer() -> None:
    check = RestCheck(Calibration())
    assert any(check.take(block) for block in rested(9.88, 3.0))
    assert check.trouble is not None
    assert check.trouble.words.startswith("The sensor no longer fits its calibration: it reads 9.88")


def test_a_sensor_that_misses_gravity_at_rest_is_said_to_be_uncalibrated_but_not_in_a_set(
    bench: Bench,
) -> None:
    for block in rested(9.88, 50.0):
        bench.rack.samples(block)
    (trouble,) = [t for t in bench.view.troubles if t.kind == "calibration"]
    assert trouble.words == "The sensor is not calibrated: it reads 9.88 m/s² at rest, not 9.81."
    assert "Calibrate it" in trouble.advice
    lift_until(bench, 1)
    assert "calibration" not in kinds(bench.view)


def test_a_sensor_that_reads_gravity_says_nothing(bench: Bench) -> None:
    for size in (9.88, 9.82):
        for block in rested(size, 50.0 if size > 9.85 else 60.0):
            bench.rack.samples(block)
    assert "calibration" not in kinds(bench.view)


def test_a_silent_sensor_is_said_to_be_asleep_until_it_is_heard_again(bench: Bench) -> None:
    for block in rested(9.81, 50.0):
        bench.rack.samples(block)
    bench.rack.tick(60.0)
    assert any("asleep" in t.words for t in bench.view.troubles)
    for block in rested(9.81, 61.0, 0.1):
        bench.rack.samples(block)
    assert "silence" not in kinds(bench.view)


def test_a_struck_rep_comes_back_with_undo(bench: Bench) -> None:
    lift_until(bench, 2)
    assert bench.view.set is not None
    bench.rack.strike_rep(bench.view.set.reps[0].rep_id, True)
    bench.rack.undo()
    assert bench.view.set.reps[0].status is not RepStatus.STRUCK
