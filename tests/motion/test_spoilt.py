"""A speed that lost samples leave unsure by a quarter is no number; a jostle that may be none is no failed rep."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.motion.judge import Judge
from station.motion.spoilt import lost_within_s
from station.squad.lifts import LIFTS
from tests.motion.test_shocks import outcome
from tests.motion.test_steep_ends import SLOW

STEP_S = 0.005
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


@pytest.mark.parametrize(
    ("hole_s", "inside_s"),
    [
        ((1.2, 1.4), 0.2),
        ((0.9, 1.1), 0.1),
        ((1.9, 2.2), 0.1),
        ((0.5, 2.5), 1.0),
        ((0.2, 0.6), 0.0),
        ((2.1, 2.4), 0.0),
    ],
    ids=["inside", "over its start", "over its end", "around it", "before it", "after it"],
)
def test_of_a_hole_over_a_border_the_part_inside_counts(hole_s: tuple[float, float], inside_s: float) -> None:
    time_s = np.arange(0.0, 3.0, STEP_S)
    left = time_s[(time_s < hole_s[0]) | (time_s > hole_s[1])]
    assert lost_within_s(left, 1.0, 2.0) == pytest.approx(inside_s, abs=2 * STEP_S)
    assert lost_within_s(time_s, 1.0, 2.0) == 0.0
