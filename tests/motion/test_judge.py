"""What is a repetition: one that came from no bottom must have risen beyond doubt."""

from __future__ import annotations

from dataclasses import replace

import pytest

from station.motion.judge import Judge
from station.squad.lifts import LIFTS
from tests.motion.streams import reps_of
from tests.motion.test_shocks import DEVELOPMENT_SEEDS_FROM
from tests.motion.test_steep_ends import SLOW
from tests.validation.outcome import streamed
from tests.validation.scenarios import no_lift_case

# A bar that somebody walked about with for three seconds after half a minute without a rest.
WALKED = replace(
    SLOW, displacement_m=0.24, mean_velocity_m_s=0.07, dropped_before_m=0.01, strayed_m=0.0, unsure_m=0.16
)


def test_a_rise_from_nowhere_that_may_be_none_is_no_rep() -> None:
    squat = Judge(LIFTS["front squat"])
    assert squat.verdict(WALKED) == "nothing"
    assert squat.verdict(replace(WALKED, displacement_m=0.7, unsure_m=0.26)) == "nothing"  # more than a third
    assert squat.verdict(replace(WALKED, unsure_m=0.05)) == "rep"


def test_where_reps_begin_a_rise_may_be_as_unsure_as_it_is() -> None:
    squat, pull = Judge(LIFTS["front squat"]), Judge(LIFTS["deadlift"])
    assert squat.verdict(replace(WALKED, dropped_before_m=0.2)) == "rep"
    lying = replace(WALKED, displacement_m=0.45, left_alone_before=True)
    assert pull.verdict(lying) == "rep"
    assert pull.verdict(replace(lying, left_alone_before=False)) == "nothing"
    pull.counted(lying)
    assert pull.verdict(replace(lying, left_alone_before=False)) == "rep"  # from where the one before began


@pytest.mark.parametrize(("at_least_m", "up"), [(0.40, False), (0.52, True)])
def test_a_bar_has_come_up_when_it_has_risen_as_far_as_it_usually_does(at_least_m: float, up: bool) -> None:
    assert Judge(LIFTS["front squat"], given_range_m=0.6).has_come_up(at_least_m) == up
    assert not Judge(LIFTS["front squat"]).has_come_up(at_least_m)  # nobody knows how far that is


@pytest.mark.parametrize("index", [31, 35, 57])
def test_walking_about_with_a_bar_is_no_rep(index: int) -> None:
    assert reps_of(streamed(no_lift_case(index, DEVELOPMENT_SEEDS_FROM), calibrated=True)) == []
