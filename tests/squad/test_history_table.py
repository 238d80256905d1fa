"""An older history from elsewhere: nothing is guessed that could be wrong in silence, every line is answered for."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.squad.history_source import LOAD_UNITS, VELOCITY_UNITS, guessed, questions, read_history
from station.squad.history_table import HistoryPreview, Known, preview_history
from station.squad.table_text import TableError

KNOWN = Known(
    {"aino amsel": ["a"], "bela birkholz": ["b"], "max muster": ["m1", "m2"]},
    ("back squat", "bench press"),
    date(2026, 10, 14),
)
PLAIN = """Athlete,Date,Exercise,Load (lb),Set,Rep,Mean velocity [cm/s],ROM (in)
Aino Amsel,2025-09-01,Back Squat,132,1,1,74,24
Aino Amsel,2025-09-01,Back Squat,132,1,2,71,24
Bela Birkholz,2025-09-01,back squat,154,1,1,66,
"""


def previewed(text: str, **said: object) -> HistoryPreview:
    file = read_history(text)
    source = replace(guessed(file), **said)  # type: ignore[arg-type]
    assert questions(file, source) == ()
    return preview_history(file, source, KNOWN)


def wrong(line: str, **said: object) -> list[str]:
    head = "athlete,day,lift,load_kg,velocity m/s\n"
    found = previewed(head + line, day_order="year month day", **said)
    assert found.sets == ()
    return [error.in_words() for error in found.errors]


def test_columns_and_units_are_taken_from_heads_that_state_them() -> None:
    source = guessed(read_history(PLAIN))
    assert source.columns == {
        "athlete": "Athlete",
        "day": "Date",
        "lift": "Exercise",
        "load": "Load (lb)",
        "velocity": "Mean velocity [cm/s]",
        "displacement": "ROM (in)",
        "set": "Set",
        "rep": "Rep",
    }
    assert (source.load_unit, source.velocity_unit, source.length_unit) == ("lb", "cm/s", "in")
    assert source.day_order == "year month day"


def test_lines_become_sets_in_si_units() -> None:
    first, second = previewed(PLAIN).sets
    assert (first.athlete_id, first.day, first.lift) == ("a", date(2025, 9, 1), "back squat")
    # 1 lb is 0.45359237 kg and 1 in is 0.0254 m exactly (NIST SP 811, appendix B.8).
    assert first.load_kg == pytest.approx(132 * 0.45359237)
    assert [r.mean_velocity_m_s for r in first.reps] == [0.74, 0.71]
    assert first.reps[0].displacement_m == pytest.approx(24 * 0.0254)
    assert second.reps[0].displacement_m is None


def test_a_unit_that_nobody_stated_is_asked_for() -> None:
    file = read_history("name,date,lift,load,velocity\nAino Amsel,2025-09-01,back squat,60,0.7\n")
    asked = questions(file, guessed(file))
    assert any("In which unit is the load: kg, lb?" in one for one in asked)
    assert any("In which unit is the velocity" in one for one in asked)


def test_the_order_of_day_and_month_is_asked_for_only_where_it_is_open() -> None:
    head = "name,date,lift,load_kg,velocity m/s\n"
    open_one = read_history(head + "Aino Amsel,03/04/2025,back squat,60,0.7\n")
    assert guessed(open_one).day_order == ""
    assert questions(open_one, guessed(open_one)) == (
        "In which order is a day written: year month day, day month year, month day year?",
    )
    clear = read_history(
        head + "Aino Amsel,03/04/2025,back squat,60,0.7\nAino Amsel,25/04/2025,back squat,60,0.7\n"
    )
    assert guessed(clear).day_order == "day month year"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("Nobody Known,2025-09-01,back squat,60,0.7", "nobody is called 'Nobody Known'"),
        ("Max Muster,2025-09-01,back squat,60,0.7", "2 athletes are called Max Muster"),
        ("Aino Amsel,2025-13-01,back squat,60,0.7", "is not a day written as year month day"),
        ("Aino Amsel,2026-10-14,back squat,60,0.7", "is not before today"),
        ("Aino Amsel,2025-09-01,cable curl,60,0.7", "is no lift that is known here"),
        ("Aino Amsel,2025-09-01,back squat,heavy,0.7", "the load 'heavy' is not a number"),
        ("Aino Amsel,2025-09-01,back squat,60,74", "is not between 0.03 and 4"),
        ("Aino Amsel,2025-09-01,back squat,60,", "the velocity is empty"),
        ("Aino Amsel,2025-09-01,back squat,,0.7", "the load is empty"),
    ],
)
def test_what_is_wrong_is_said_by_line(line: str, words: str) -> None:
    (said,) = wrong(line)
    assert said.startswith("line 2: ")
    assert words in said


def test_a_lift_by_another_name_can_be_named() -> None:
    text = "athlete,day,lift,load_kg,velocity m/s\nAino Amsel,2025-09-01,BSQ,60,0.7\n"
    assert previewed(text).unknown_lifts == ("BSQ",)
    (one,) = previewed(text, lifts={"bsq": "back squat"}).sets
    assert one.lift == "back squat"


def test_without_a_set_column_a_rep_that_does_not_count_on_begins_a_set() -> None:
    rows = [(1, 0.7), (2, 0.68), (1, 0.66), (2, 0.65)]
    text = "athlete,day,lift,load_kg,rep,velocity m/s\n" + "".join(
        f"Aino Amsel,2025-09-01,back squat,60,{n},{v}\n" for n, v in rows
    )
    assert [len(one.reps) for one in previewed(text).sets] == [2, 2]


def test_a_file_with_neither_sets_nor_reps_has_a_set_a_line() -> None:
    text = "athlete,day,lift,load_kg,velocity m/s\n" + "Aino Amsel,2025-09-01,back squat,60,0.7\n" * 3
    assert [len(one.reps) for one in previewed(text).sets] == [1, 1, 1]


def test_a_rep_that_is_there_twice_is_left_out_and_said() -> None:
    found = previewed(PLAIN + "Aino Amsel,2025-09-01,Back Squat,132,1,2,70,24\n")
    assert [error.in_words() for error in found.errors] == ["line 5: rep 2 of this set is in the file twice"]
    assert len(found.sets[0].reps) == 2


def test_times_of_day_semicolons_and_decimal_commas_are_understood() -> None:
    text = "Name;Date;Time;Lift;Load kg;Velocity m/s\nAino Amsel;2025-09-01;09:30;back squat;62,5;0,71\n"
    (one,) = previewed(text).sets
    assert (one.at, one.load_kg, one.reps[0].mean_velocity_m_s) == (time(9, 30), 62.5, 0.71)


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "empty"), ("athlete,day\n", "no line below"), ("load,load\n1,2\n", "two columns are called load")],
)
def test_a_file_that_is_no_table_is_refused_with_a_reason(text: str, words: str) -> None:
    with pytest.raises(TableError, match=words):
        read_history(text)


@given(
    kg=st.floats(5, 300),
    speed=st.floats(0.1, 3.0),
    load_unit=st.sampled_from(sorted(LOAD_UNITS)),
    speed_unit=st.sampled_from(sorted(VELOCITY_UNITS)),
)
def test_any_unit_gives_the_same_set(kg: float, speed: float, load_unit: str, speed_unit: str) -> None:
    load, velocity = kg / LOAD_UNITS[load_unit], speed / VELOCITY_UNITS[speed_unit]
    text = f"athlete,day,lift,load,velocity\nAino Amsel,2025-09-01,back squat,{load:.6f},{velocity:.6f}\n"
    file = read_history(text)
    source = replace(guessed(file), load_unit=load_unit, velocity_unit=speed_unit)
    (one,) = preview_history(file, source, KNOWN).sets
    assert one.load_kg == pytest.approx(kg, abs=1e-5)
    assert one.reps[0].mean_velocity_m_s == pytest.approx(speed, abs=1e-5)


@given(st.text(max_size=300))
def test_no_text_is_too_strange_to_be_answered(text: str) -> None:
    try:
        file = read_history(text)
    except TableError:
        return
    source = guessed(file)
    if not questions(file, source):
        preview_history(file, source, KNOWN)
