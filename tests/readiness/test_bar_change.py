"""What changes on the bar: added, taken off or exchanged, and always the load that was wanted."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.readiness.bar_change import change_on_bar
from station.readiness.plates import KG_RACK, LB_RACK, PlateSet, load_within, side_of, total_kg
from station.readiness.results import PlatesPerSide

LOADS = st.floats(20.0, 250.0)


def loaded(load_kg: float, rack: PlateSet = KG_RACK) -> PlatesPerSide:
    made = load_within(rack, load_kg)
    assert made is not None
    return made


@pytest.mark.parametrize(
    ("before_kg", "after_kg", "words"),
    [
        (100.0, 120.0, "100 to 120 kg: add 10 a side"),
        (120.0, 100.0, "120 to 100 kg: 25 off, 15 on a side"),
        (65.0, 60.0, "65 to 60 kg: take 2.5 off a side"),
        (60.0, 60.0, ""),
        (60.0, 20.0, "60 to 20 kg: take 20 off a side"),
    ],
)
def test_the_words_say_what_is_lifted_on_or_off_each_side(
    before_kg: float, after_kg: float, words: str
) -> None:
    change = change_on_bar(KG_RACK, loaded(before_kg), after_kg, "kg")
    assert change is not None
    assert change.words == words


def test_on_a_screen_in_pounds_the_loads_are_pounds_and_plates_stay_what_they_are() -> None:
    change = change_on_bar(LB_RACK, loaded(135 * 0.45359237, LB_RACK), 225 * 0.45359237, "lb")
    assert change is not None
    assert change.words == "135 to 225 lb: add 45 a side"


def test_nobody_knows_what_hangs_there_so_nothing_is_said() -> None:
    change = change_on_bar(KG_RACK, None, 100.0, "kg")
    assert change is not None
    assert (change.words, change.plates) == ("", load_within(KG_RACK, 100.0))
    assert change_on_bar(KG_RACK, None, 12.0, "kg") is None


@settings(max_examples=60, deadline=None)
@given(LOADS, LOADS)
def test_whatever_is_changed_the_bar_weighs_the_most_within_the_limit(before: float, after: float) -> None:
    change = change_on_bar(KG_RACK, loaded(before), after, "kg")
    best = loaded(after)
    assert change is not None
    assert change.plates.total_kg == pytest.approx(best.total_kg)
    stock = dict(KG_RACK.pairs)
    assert all(n <= stock[mass] for mass, n in change.plates.plates)
    assert total_kg(KG_RACK, side_of(KG_RACK, change.plates.plates)) == pytest.approx(best.total_kg)


def test_weighed_plates_are_named_by_what_is_written_on_them() -> None:
    rack = PlateSet(((20.0, 2), (10.0, 1)), weighed=((20.0, 19.4), (10.0, 10.1)), bar_kg=19.8)
    change = change_on_bar(rack, loaded(58.6, rack), 80.0, "kg")
    assert change is not None
    assert change.words == "58.6 to 78.8 kg: add 10 a side"
