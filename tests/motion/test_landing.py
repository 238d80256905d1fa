"""A bar put down hard: when it is known to lie still, and what the next pull or a failed one makes of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.motion.landing import LandingWatch
from tests.motion.test_shocks import outcome

FRAME_S = 0.044


def watch_after(blow_m_s: float, coming_down_m_s: float) -> LandingWatch:
    """A watch that saw a bar come down at that speed, and then a blow of that size."""
    watch = LandingWatch()
    for _ in range(3):
        assert not watch.struck(0.0, -coming_down_m_s, FRAME_S)
    assert not watch.struck(blow_m_s, 0.0, FRAME_S)
    return watch


def test_a_bar_that_keeps_its_speed_after_a_blow_lies_still() -> None:
    watch = watch_after(blow_m_s=0.3, coming_down_m_s=0.4)
    assert watch.struck(0.0, 0.05, FRAME_S)
    told = watch.told(0.05, sd_m_s=0.07, gain_m_s=0.002, duration_s=FRAME_S)
    assert told is not None
    assert (told.gained_m_s, told.frames_ago) == (0.0, 0)
    assert 0 < told.sigma_m_s < 0.05


def test_it_is_told_once_and_a_second_frame_says_nothing_new() -> None:
    watch = watch_after(blow_m_s=0.3, coming_down_m_s=0.4)
    assert watch.struck(0.0, 0.05, FRAME_S)
    assert watch.told(0.05, 0.07, 0.002, FRAME_S)
    assert not watch.struck(0.0, 0.05, FRAME_S)


def test_a_bar_pulled_at_once_stood_still_at_the_blow_and_has_gained_its_speed_since() -> None:
    watch = watch_after(blow_m_s=0.3, coming_down_m_s=0.4)
    assert watch.struck(0.06, 0.1, FRAME_S)
    assert watch.told(0.1, 0.1, 0.10, FRAME_S) is None  # the steel still rings
    assert watch.struck(0.0, 0.22, FRAME_S)
    told = watch.told(0.16, 0.1, 0.06, FRAME_S)
    assert told is not None
    began_m_s = 0.5 * 0.06  # and may have been pulled for half the frame that the blow fell into
    assert (told.gained_m_s, told.frames_ago) == (pytest.approx(0.16 + began_m_s), 2)
    assert told.sigma_m_s > 0.06
    assert watch.struck(0.0, 0.22, FRAME_S)
    assert watch.told(0.22, 0.1, 0.001, FRAME_S) is None  # constant for a moment, at its fastest


def test_a_bar_that_bounces_has_not_been_stopped() -> None:
    watch = watch_after(blow_m_s=0.3, coming_down_m_s=0.8)
    for velocity in (0.3, -0.1):
        assert watch.struck(0.0, velocity, FRAME_S)
        assert watch.told(velocity, 0.1, -9.8 * FRAME_S, FRAME_S) is None


@pytest.mark.parametrize(("blow", "down"), [(0.05, 0.4), (0.3, 0.1), (0.3, -0.4)])
def test_a_rattle_or_a_knock_on_the_way_up_is_no_landing(blow: float, down: float) -> None:
    assert not watch_after(blow, down).struck(0.0, 0.0, FRAME_S)


def test_a_speed_beyond_what_the_blow_may_have_spoilt_is_believed() -> None:
    watch = watch_after(blow_m_s=0.3, coming_down_m_s=0.4)
    assert watch.struck(0.0, -0.5, FRAME_S)
    assert watch.told(-0.5, 0.07, 0.0, FRAME_S) is None


def test_one_that_seems_to_rise_may_have_been_pulled_within_the_blow() -> None:
    for velocity, lies in ((0.42, False), (-0.42, True)):
        watch = watch_after(blow_m_s=0.3, coming_down_m_s=0.4)
        assert watch.struck(0.0, velocity, FRAME_S)
        assert (watch.told(velocity, 0.157, 0.002, FRAME_S) is not None) is lies


@given(st.lists(st.floats(0.0, 0.2), min_size=9, max_size=30))
def test_nothing_is_told_of_a_blow_long_past(gains: list[float]) -> None:
    watch = watch_after(blow_m_s=0.3, coming_down_m_s=0.4)
    for gain in gains:
        if watch.struck(0.0, 0.0, FRAME_S):
            watch.told(10.0, 0.07, gain, FRAME_S)
    assert not watch.struck(0.0, 0.0, FRAME_S)


@pytest.mark.parametrize(
    ("condition", "index"),
    [
        ("heavy", 194),  # dragged off the floor a quarter of a second after it hit it
        ("heavy", 214),
        ("heavy", 186),  # grinds for two seconds at 0.05 m/s, speed unsure
        ("heavy", 485),  # rings for two frames more
        ("heavy", 519),  # and pulled at once
        ("heavy", 529),
        ("heavy", 545),
        ("heavy", 264),  # seems to come down, and to have risen by two thirds
        ("2 g", 185),  # pulled while the clipped blow still rings
        ("touch", 35),  # before the blow is over
        ("touch", 135),  # and stuck half-way up at 0.12 m/s, not known to be there
        ("touch", 164),
    ],
)
def test_slow_pulls_after_a_landing_are_counted_with_the_right_speed(condition: str, index: int) -> None:
    found = outcome(condition, index)
    assert (found.missed, found.invented, found.failed_found) == (0, 0, 0)
    assert np.abs(found.column(0)).max() < 0.035


@pytest.mark.parametrize("index", [217, 224, 307, 346, 369])
def test_a_pull_that_fails_after_a_landing_or_a_long_rest_is_reported_as_failed(index: int) -> None:
    found = outcome("failed", index)
    assert (found.missed, found.invented) == (0, 0)
    assert found.failed_found == found.failed_true == 1


def test_standing_up_from_a_catch_is_no_failed_clean() -> None:
    found = outcome("100 Hz", 89)
    assert (found.missed, found.invented, found.failed_found) == (0, 0, 0)
