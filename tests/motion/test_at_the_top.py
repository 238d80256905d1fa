"""A bar that came up as far as it does is at rest there: its sway tells the speed at the rep's end."""

from __future__ import annotations

from math import hypot, pi

import numpy as np
import pytest

from station.motion.attitude import Stillness, StillnessReading
from station.motion.rest import RestAssumption
from station.motion.tilt_filter import TiltFilter
from tests.motion.test_shocks import outcome
from tests.motion.test_where_it_stays import FRAME_S, NOISE, P, lying, step

SHAKES_M_S2 = 0.3


def at_rest_within(stillness: Stillness, *, came_up: bool) -> float:
    """What is assumed of the speed of a bar that shakes a little, m/s."""
    tilt = TiltFilter(P)
    tilt.predict((0.0, 0.0, 9.80665 * FRAME_S), FRAME_S, NOISE, 1e-8, blind=False)
    reading = StillnessReading(stillness, SHAKES_M_S2, 0.5)
    return RestAssumption(P).sigma(reading, lying(), tilt, step(0.0), 0.0, came_up=came_up)


@pytest.mark.parametrize("stillness", [Stillness.HOVERING, Stillness.HELD])
def test_what_shakes_within_a_window_moves_no_faster_than_once_in_it(stillness: Stillness) -> None:
    """A sine as long as the window is about the slowest that shows as spread; its speed is a / (2 pi f)."""
    speed_m_s = SHAKES_M_S2 / (2 * pi / P.rest_window_s)
    assert at_rest_within(stillness, came_up=True) == pytest.approx(hypot(P.soft_rest_speed_m_s, speed_m_s))
    assert at_rest_within(stillness, came_up=False) > 0.025


def test_a_first_pull_that_nothing_closes_is_known_by_its_stand_at_the_top() -> None:
    found = outcome("heavy", 125)
    assert (found.missed, found.invented) == (0, 0)
    assert np.abs(found.column(0)).max() < 0.008  # 0.011 too fast where shaking counted as speed


def test_without_a_calibration_a_stand_at_the_top_that_was_not_believed_waits_for_the_way_down() -> None:
    found = outcome("not calibrated", 1, 310_000)
    assert (found.missed, found.invented) == (0, 0)
    assert np.abs(found.column(0)).max() < 0.06  # told at once, with the stand in it: 0.44 too slow
