"""What a rack keeps besides reps: bars and plates as weighed, PINs, settings, several sets corrected in one step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from station.capture import session
from station.capture.pins import PinGate
from station.capture.rack_settings import FILE_NAME, keep_settings, read_settings
from station.capture.rack_setup import setup_from_record
from station.capture.rack_view import ScreenSettings
from station.capture.surroundings import Surroundings
from station.store.rack_things import BAR, PLATE, Thing, thing_row
from station.store.rows import NewRep, NewSet
from tests.capture.bench import DAY, LIFT, WARMUP, WORK, Bench


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path / "data" / "rack-1")  # apart from the PINs of other tests
    yield made
    made.rack.close()
    made.record.close()


def three_sets(bench: Bench) -> list[str]:
    """Two sets at 60 kg and one at 95, and one more before them."""
    ids = []
    for who, load in (("b", 60.0), ("a", 60.0), ("b", 60.0), ("a", 95.0)):
        ids.append(bench.record.begin_set(NewSet(who, True, DAY, 1, LIFT, load, "warm-up", bar_kg=20.0)))
        bench.record.add_rep(ids[-1], NewRep(1, "measured", 1, 2, 2.3, 0.9, 0.9, 1.4, 0.6, 0.01))
    bench.rack.session.everything_changed()
    return ids


def loads(bench: Bench) -> list[float]:
    return [row.load_kg for row in bench.record.sets_on(DAY)]


def test_one_step_corrects_the_load_of_all_sets_with_the_same_mistake_from_a_time_on(bench: Bench) -> None:
    ids = three_sets(bench)
    bench.rack.sign_in("Coach Minke")
    bench.rack.correct_from(ids[1], "load_kg", 62.5)
    assert loads(bench) == [60.0, 62.5, 62.5, 95.0]
    bench.rack.undo()
    assert loads(bench) == [60.0, 60.0, 60.0, 95.0]


def test_another_bar_changes_the_load_of_all_sets_from_there_on(bench: Bench) -> None:
    ids = three_sets(bench)
    bench.rack.correct_from(ids[2], "bar_kg", 15.0)
    assert loads(bench) == [60.0, 60.0, 55.0, 90.0]
    assert [row.bar_kg for row in bench.record.sets_on(DAY)] == [20.0, 20.0, 15.0, 15.0]
    assert bench.view.bar_kg == 15.0
    bench.rack.undo()
    assert loads(bench) == [60.0, 60.0, 60.0, 95.0]
    assert bench.view.bar_kg == 20.0


def test_another_lift_moves_the_sets_to_its_history(bench: Bench) -> None:
    ids = three_sets(bench)
    bench.rack.correct_from(ids[0], "lift", "front squat")
    assert {row.lift for row in bench.record.sets_on(DAY)} == {"front squat"}
    assert [o.day for o in bench.record.observations("a", "front squat")] == [DAY, DAY]


def test_the_sets_of_the_session_are_offered_with_name_and_load(bench: Bench) -> None:
    three_sets(bench)
    bench.rack.publish()
    assert [(s.athlete, s.load_kg) for s in bench.view.session_sets][:2] == [("Bela", 60.0), ("Aino", 60.0)]


def test_a_pin_is_asked_for_where_one_was_chosen(bench: Bench) -> None:
    bench.rack.sign_in("Coach Minke")
    bench.rack.set_pin("12")
    assert "four digits" in bench.view.pin_words or "4 digits" in bench.view.pin_words
    bench.rack.set_pin("2468")
    assert bench.view.pin_needed == ("Coach Minke",)
    bench.rack.sign_in("Coach Halvard")
    bench.rack.sign_in("Coach Minke", "1111")
    assert bench.view.staff == "Coach Halvard"
    assert "not the PIN" in bench.view.pin_words


def test_the_right_pin_lets_in_and_is_not_kept_readable(bench: Bench) -> None:
    pin = "2468013579"  # so long that no id or hash in the file holds it by chance
    bench.rack.sign_in("Coach Minke")
    bench.rack.set_pin(pin)
    bench.rack.sign_in("Coach Halvard")
    bench.rack.sign_in("Coach Minke", pin)
    assert bench.view.staff == "Coach Minke"
    kept = b"".join(file.read_bytes() for file in bench.record.database.folder.glob("record.sqlite*"))
    assert b"$argon2id$" in kept  # the encoded form of RFC 9106's reference implementation
    assert pin.encode() not in kept


def test_after_a_wrong_pin_no_other_is_looked_at_for_a_while() -> None:
    seconds = [0.0]
    gate = PinGate(lambda: seconds[0])
    pin_hash = gate.hashed("2468")
    assert "Wait 2 s" in gate.refused("Minke", "1111", pin_hash)
    assert gate.refused("Minke", "2468", pin_hash).startswith("Wait")
    seconds[0] = 2.1
    assert "Wait 4 s" in gate.refused("Minke", "1112", pin_hash)
    seconds[0] = 6.2
    assert gate.refused("Minke", "2468", pin_hash) == ""


def test_settings_stay_and_a_spoilt_file_is_a_new_screen(bench: Bench) -> None:
    folder = bench.record.database.folder
    wanted = ScreenSettings("lb", 150, True, "light", ((LIFT, "peak"),))
    bench.rack.use_settings(wanted)
    assert (bench.view.unit, bench.view.figure) == ("lb", "peak")
    assert read_settings(folder) == wanted
    assert setup_from_record(bench.record).settings == wanted
    (folder / FILE_NAME).write_text('{"unit": "stone"')
    assert read_settings(folder) == ScreenSettings()
    keep_settings(folder / "nowhere", wanted)  # a folder that refuses stops nobody


def test_in_pounds_every_sentence_speaks_pounds(bench: Bench) -> None:
    bench.rack.use_settings(ScreenSettings("lb"))
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    view = bench.view
    assert view.suggestion is not None
    said = [view.suggestion.sentence, *(tile.to_do for tile in view.group), view.bar_change]
    assert not [words for words in said if " kg" in words]
    assert view.plates is not None
    assert view.plates.unit == "lb"
    assert view.group[1].to_do == "warm-up 132.5 lb"  # 60 / 0.45359237 = 132.28, to the half pound


def test_plates_and_bar_weigh_what_the_scale_said(bench: Bench) -> None:
    things = [
        Thing(BAR, "old bar", "kg", 19.6),
        Thing(PLATE, "20", "kg", 19.4, 2),
        Thing(PLATE, "5", "kg", 5.0, 1),
        Thing(PLATE, "10", "kg", 10.0, 0),
    ]
    bench.record.add_rows("equipment", [thing_row(thing) for thing in things])
    setup = setup_from_record(bench.record)
    assert setup.bars == (("old bar", 19.6),)
    assert setup.plates.pairs == ((20.0, 2), (5.0, 1))
    bench.rack.setup = bench.rack.session.setup = setup
    bench.rack.set_load(60.0)
    assert bench.view.plates is not None
    assert bench.view.plates.in_words() == "20 kg a side"  # what is written on it
    assert bench.view.plates.total_kg == pytest.approx(19.6 + 2 * 19.4)


def test_a_set_keeps_sensor_bar_and_plates(bench: Bench) -> None:
    bench.lift(WARMUP)
    with bench.record.database.read() as connection:
        row = connection.exec_driver_sql("SELECT bar_kg, plates FROM sets ORDER BY id DESC").first()
    assert row is not None
    assert tuple(row) == (20.0, "[[20, 1]]")


def test_a_switch_says_what_changes_on_the_bar(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    bench.lift(WARMUP)
    bench.rack.switch_athlete("a")
    assert bench.view.load_kg == 95.0
    assert bench.view.bar_change == "60 to 95 kg: add 15 + 2.5 a side"
    assert bench.view.plates is not None
    assert bench.view.plates.in_words() == "20 + 15 + 2.5 kg a side"
    bench.lift(WORK, seed=6, at_s=900.0)
    assert bench.view.bar_change == ""


def test_a_target_velocity_brings_the_load_for_it(bench: Bench) -> None:
    target = {"athlete_id": "a", "lift": LIFT, "target_low_m_s": 0.55, "target_high_m_s": 0.65}
    bench.record.add_rows("lift_targets", [target | {"velocity_at_1rm_m_s": 0.30}])
    bench.rack.setup = bench.rack.session.setup = setup_from_record(bench.record)
    bench.rack.switch_athlete("a")
    assert bench.view.target_band_m_s == (0.55, 0.65)
    bench.lift(WARMUP)
    assert bench.view.suggestion is not None
    assert bench.view.suggestion.sentence.endswith("for about 0.60 m/s today.")
    assert bench.view.coach is not None
    assert bench.view.coach.own_velocity_at_1rm
    assert bench.view.coach.velocity_at_1rm_m_s == 0.30


def test_reps_left_are_estimated_from_own_sets_to_the_limit_alone(bench: Bench) -> None:
    def to_the_limit(who: str) -> None:
        for week in (3, 4, 5):
            day = DAY - timedelta(weeks=week)
            set_id = bench.record.begin_set(NewSet(who, True, day, 1, LIFT, 95.0, "work"))
            speeds = [0.60 - 0.05 * n + 0.002 * week for n in range(7)]
            for number, v in enumerate(speeds, 1):
                bench.record.add_rep(set_id, NewRep(number, "measured", 1, 2, 2.3, v, v, 1.0, 0.6, 0.01))
            bench.record.add_rep(set_id, NewRep(8, "failed", 1, 2, 2.3, 0.2, 0.2, 0.4, 0.2, 0.01))

    bench.rack.switch_athlete("a")
    bench.rack.set_load(95.0)
    bench.lift(WORK)
    open_views = [v for v in bench.views if v.set is not None and v.set.is_open and v.coach is not None]
    assert all(v.coach.reps_left is None for v in open_views if v.coach is not None)
    to_the_limit("a")
    bench.rack.session.everything_changed()
    bench.views.clear()
    bench.rack.switch_athlete("a")
    bench.rack.set_load(95.0)
    bench.lift(WORK, seed=6, at_s=900.0)
    known = [v.coach.reps_left for v in bench.views if v.coach is not None and v.coach.reps_left is not None]
    assert known
    assert known[0].low <= known[0].expected <= known[0].high


def test_a_sensor_seen_for_the_first_time_widens_the_range_before_the_set(bench: Bench) -> None:
    bench.rack.switch_athlete("a")
    before = bench.view.usual
    bench.rack.session.equipment = "another sensor|20.0"
    row = {"sensor": "sensor 1", "bar_kg": 20.0}
    with bench.record.database.write("the sensors") as connection:
        connection.exec_driver_sql("UPDATE sets SET sensor = ?, bar_kg = ?", (row["sensor"], row["bar_kg"]))
    bench.rack.session.everything_changed()
    bench.rack.publish()
    after = bench.view.usual
    assert before is not None
    assert after is not None
    assert after.sd_m_s > before.sd_m_s * 1.1


# -- trouble around the rack ------------------------------------------------------------------------------------


def around(folder: Path, **what: object) -> Surroundings:
    now = datetime(2026, 10, 14, 12, tzinfo=UTC)
    return replace(Surroundings(folder, lambda: now), **what)  # type: ignore[arg-type]


def test_nothing_wrong_says_nothing(bench: Bench, tmp_path: Path) -> None:
    assert around(tmp_path).troubles(bench.record) == []


def test_an_old_backup_and_an_absent_shared_database_are_said(bench: Bench, tmp_path: Path) -> None:
    ago = datetime(2026, 10, 5, 12, tzinfo=UTC)
    surroundings = around(tmp_path, last_backup=lambda: ago, shared_away_since=lambda: ago)
    words = [line.words for line in surroundings.troubles(bench.record)]
    assert words == ["The last backup is 9 days old", "The shared database has been away for 9 days"]


def test_a_clock_before_the_last_set_is_unsure(bench: Bench, tmp_path: Path) -> None:
    early = around(tmp_path, now=lambda: datetime(2026, 10, 14, 8, tzinfo=UTC))
    (line,) = early.troubles(bench.record)
    assert (line.kind, line.words) == (
        "clock",
        "This machine's clock is unsure: a set was recorded 2 hours from now",
    )


def test_a_disk_nearly_full_is_said_before_it_is_full(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shutil.disk_usage", lambda _folder: type("Use", (), {"free": 120_000_000})())
    (line,) = around(tmp_path).troubles(bench.record)
    assert line.words == "The disk is nearly full: 120 MB left"


def test_the_rack_looks_around_once_a_minute(bench: Bench, tmp_path: Path) -> None:
    ago = datetime(2026, 10, 5, 12, tzinfo=UTC)
    bench.rack._surroundings = around(tmp_path, last_backup=lambda: ago)
    bench.rack.tick(1000.0)
    assert [t.kind for t in bench.view.troubles] == ["backup"]
    bench.rack._surroundings = around(tmp_path)
    bench.rack.tick(1030.0)
    assert [t.kind for t in bench.view.troubles] == ["backup"]
    bench.rack.tick(1061.0)
    assert bench.view.troubles == ()


def test_the_first_reps_number_waits_for_no_history(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    read, while_open = session.sets_to_the_limit, []

    def sets_to_the_limit(*what: Any, **more: Any) -> list[list[float]]:
        if bench.rack.state.set is not None and bench.rack.state.set.is_open:
            while_open.append(what)
        return read(*what, **more)

    monkeypatch.setattr(session, "sets_to_the_limit", sets_to_the_limit)
    bench.rack.switch_athlete("a")
    bench.rack.set_load(95.0)
    bench.lift(WORK)
    assert bench.view.set is not None
    assert while_open == []
