"""The figures behind the list: each has its steps, its words and its way into the record and back."""

from __future__ import annotations

from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.readiness.rules_adjusted import FIGURES, as_row, from_row
from station.readiness.squad_list import squad_list
from station.readiness.squad_rules import Measure, SquadRules
from tests.readiness.test_squad_list import DUE, MORNING, athlete, reading

DELIVERED = SquadRules()


@pytest.mark.parametrize("figure", FIGURES, ids=lambda figure: figure.key)
def test_a_step_up_and_a_step_down_is_where_it_was_and_the_ends_hold(figure) -> None:  # type: ignore[no-untyped-def]
    assert figure.read(DELIVERED) in figure.steps
    up = figure.moved(DELIVERED, 1)
    assert up != DELIVERED
    assert figure.moved(up, -1) == DELIVERED
    assert figure.in_words(up) != figure.in_words(DELIVERED)
    for end, by in ((figure.steps[0], -1), (figure.steps[-1], 1)):
        at_end = figure.put(DELIVERED, end)
        assert figure.moved(at_end, by) == at_end


@given(st.lists(st.tuples(st.sampled_from(FIGURES), st.sampled_from((-1, 1))), max_size=20))
def test_whatever_is_chosen_comes_back_out_of_the_record(steps) -> None:  # type: ignore[no-untyped-def]
    rules = DELIVERED
    for figure, by in steps:
        rules = figure.moved(rules, by)
    assert from_row(as_row(rules)) == rules


@pytest.mark.parametrize("row", [{}, {"below_chance": 7.0, "due jump": "half past", "unknown": 1}])
def test_what_makes_no_sense_is_as_delivered(row: dict[str, object]) -> None:
    assert from_row(row) == DELIVERED


def test_a_time_is_kept_as_it_is_read_on_the_wall() -> None:
    row = as_row(SquadRules(due_by={**DELIVERED.due_by, Measure.JUMP: time(10, 30)}))
    assert row["due jump"] == "10:30"
    assert from_row(row).due_by[Measure.JUMP] == time(10, 30)


def test_the_expected_false_calls_go_with_the_rules() -> None:
    squad = [athlete(str(n), *(reading(m) for m in DUE)) for n in range(46)]
    # 46 * (1 - (1 - p)^3)
    for p, expected in ((0.025, 3.36), (0.05, 6.56), (0.005, 0.687)):
        made = squad_list(squad, MORNING, SquadRules(below_chance=p))
        assert made.by_chance == pytest.approx(expected, abs=0.01)
