"""A speed that lost samples leave unsure by a quarter is no number; a jostle that may be none is no failed rep."""

from __future__ import annotations

from dataclasses import replace

import pytest

from station.motion.judge import Judge
from station.squad.lifts import LIFTS
from tests.motion.test_shocks import outcome
from tests.motion.test_steep_ends import SLOW

JOSTLE = replace(SLOW, displacement_m=0.08, mean_velocity_m_s=0.06, start_height_m=0.0, strayed_m=0.0)


@pytest.mark.parametrize("index", [39, 53])
def test_a_rep_whose_bounds_lie_in_a_hole_has_no_number(index: int) -> None:
    found = outcome("5 %", index)  # told as 1.15 and 0.92 m/s, plus or minus a third
    assert (found.missed, found.invented, found.not_measured) == (0, 0, 1)


def test_a_small_rise_is_a_failed_rep_only_where_it_is_surely_one() -> None:
    judge = Judge(LIFTS["overhead press"], given_range_m=0.55)
    assert judge.verdict(replace(JOSTLE, unsure_m=0.005)) == "failed"
    assert judge.verdict(replace(JOSTLE, unsure_m=0.03)) == "nothing"


@pytest.mark.parametrize("index", [56, 66, 86])
def test_racking_an_overhead_press_without_a_gyro_is_no_failed_rep(index: int) -> None:
    found = outcome("accelerometer only", index)
    assert (found.missed, found.invented, found.failed_found) == (0, 0, 0)
