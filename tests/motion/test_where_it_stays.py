"""A bar stays about where it is, wherever that is: what that says of its velocity, and when it says more."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.samples import FloatArray
from station.motion.attitude import Stillness, StillnessReading
from station.motion.live import CONSTANTS, STATES, VerticalFilter, VerticalStep
from station.motion.parameters import EngineParameters
from station.motion.rest import RestAssumption
from station.motion.smoother import SmootherInput, smooth
from station.motion.tilt_filter import TiltFilter
from tests.motion.test_shocks import outcome

P = EngineParameters()
FRAME_S = 0.04
NOISE = P.acc_walk_m_s2_rthz**2 * FRAME_S


def step(dv_m_s: float, wander_m: float = P.wander_m) -> VerticalStep:
    """One frame of a bar that does not turn."""
    move = np.zeros((2, STATES))
    move[0, :3] = 1.0, FRAME_S, -0.5 * FRAME_S**2
    move[1, 1:3] = 1.0, -FRAME_S
    return VerticalStep(FRAME_S, dv_m_s, 0.5 * FRAME_S * dv_m_s, move, NOISE, wander_m)


def lying() -> VerticalFilter:
    """A filter of a bar that has lain still for a second, and is not known to stay there."""
    filtered = VerticalFilter(P)
    for _ in range(25):
        filtered.predict(step(0.0))
        filtered.at_rest(P.hard_rest_speed_m_s)
        filtered.forget_height()
    return filtered


def test_a_bar_held_half_a_metre_higher_is_not_thought_to_sink() -> None:
    filtered = lying()
    for dv in [0.1] * 5 + [0.0] * 20 + [-0.1] * 5:
        filtered.predict(step(dv))
    for _ in range(250):  # ten seconds, nothing seen of rest
        filtered.predict(step(0.0))
    assert abs(filtered.velocity) < 0.02
    assert filtered.height == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize("bottom_m", [-0.6, 0.6])
def test_reps_all_on_one_side_of_where_it_lay_do_not_pull_the_velocity_there(bottom_m: float) -> None:
    filtered, frames = lying(), 1000
    t = np.arange(1, frames + 1) * FRAME_S
    velocity = 0.5 * np.pi * bottom_m * np.sin(np.pi * t)  # down and up, or up and down, every two seconds
    off = []
    for dv, true in zip(np.diff(velocity, prepend=0.0), velocity, strict=True):
        filtered.predict(step(float(dv)))
        off.append(filtered.velocity - true)
    assert np.abs(off).max() < 0.02


def test_after_a_hole_a_velocity_that_was_lost_is_found_sooner() -> None:
    def left_after_two_seconds(wander_m: float) -> float:
        filtered = lying()
        for _ in range(50):
            filtered.predict(step(0.0, wander_m))
            filtered.at_rest(0.005)
        filtered.state[1] = 0.3
        filtered.doubt_velocity(0.3**2, 0.0)
        for _ in range(50):
            filtered.predict(step(0.0, wander_m))
        return abs(filtered.velocity)

    assert left_after_two_seconds(P.lost_wander_m) < 0.75 * left_after_two_seconds(P.wander_m)


@given(st.lists(st.floats(-0.1, 0.1), min_size=5, max_size=60), st.sets(st.integers(0, 59)))
def test_the_smoother_ends_where_the_filter_is(gains: list[float], rests: set[int]) -> None:
    filtered = lying()
    first_state, first_covariance = filtered.state.copy(), filtered.covariance.copy()
    sigma = np.array([0.01 if i in rests else 0.0 for i in range(len(gains))])
    for dv, rest in zip(gains, sigma, strict=True):
        filtered.predict(step(dv))
        if rest:
            filtered.at_rest(rest)
    smoothed = smooth(_known(np.array(gains), sigma, first_state, first_covariance))
    # the filter lets the biases walk, by little; the smoother holds them
    assert smoothed.velocity_m_s[-1] == pytest.approx(filtered.velocity, abs=0.002)
    assert smoothed.height_m[-1] == pytest.approx(filtered.height, abs=0.005)


def _known(gains: FloatArray, sigma: FloatArray, state: FloatArray, covariance: FloatArray) -> SmootherInput:
    n, none = len(gains), np.zeros(len(gains))
    on_velocity, on_height = np.zeros((n, CONSTANTS)), np.zeros((n, CONSTANTS))
    on_velocity[:, 0], on_height[:, 0] = -FRAME_S, -0.5 * FRAME_S**2
    wander = np.full(n, P.wander_m)
    ds, noise = 0.5 * FRAME_S * gains, np.full(n, NOISE)
    every = np.full(n, FRAME_S)
    return SmootherInput(
        every, gains, ds, on_velocity, on_height, noise, sigma, none, none, wander, state, covariance
    )


def test_a_bar_that_may_be_half_way_up_is_at_rest_within_the_speed_of_a_sticking_region_only() -> None:
    def sigma(*, may_creep: bool) -> float:
        filtered, tilt = lying(), TiltFilter(P)
        tilt.predict((0.0, 0.0, 9.80665 * FRAME_S), FRAME_S, NOISE, 1e-8, blind=False)
        still = StillnessReading(Stillness.HELD, 0.1, 0.5)
        return RestAssumption(P).sigma(still, filtered, tilt, step(0.0), 0.0, may_creep=may_creep)

    assert sigma(may_creep=False) == pytest.approx(P.soft_rest_speed_m_s)
    assert sigma(may_creep=True) == 0.1


@pytest.mark.parametrize(
    ("condition", "index"),
    [
        ("touch", 104),  # stuck at 0.05 m/s, and after a blow not known to be half-way up
        ("heavy", 186),  # three and a half seconds on the way up
    ],
)
def test_a_slow_pull_is_neither_at_rest_nor_pulled_back(condition: str, index: int) -> None:
    found = outcome(condition, index)
    assert (found.missed, found.invented, found.failed_found) == (0, 0, 0)
    assert np.abs(found.column(0)).max() < 0.02
