"""Samples at the range's limit: what is put in for what they miss."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline

from station.motion.clipping import LONGEST_RUN_S, _cubic, fill_in

LIMIT_M_S2 = 2 * 9.80665
STEP_S = 0.005


def push(peak_m_s2: float, seconds: float = 0.2) -> np.ndarray:
    """Force along one axis: rest, half a sine on top of gravity, rest; shape (n,)."""
    n = round(seconds / STEP_S)
    return 9.80665 + np.concatenate(
        [np.zeros(10), peak_m_s2 * np.sin(np.pi * np.arange(n) / n), np.zeros(10)]
    )


def filled(force: np.ndarray, *packets: int) -> tuple[np.ndarray, np.ndarray, int]:
    """Force and doubt after samples have come in so many at a time, and how many of them will stay as they are."""
    time = STEP_S * np.arange(force.shape[1])
    clipped = np.abs(force) >= LIMIT_M_S2
    seen, doubt = np.clip(force, -LIMIT_M_S2, LIMIT_M_S2), np.zeros(force.shape[1])
    settled = 0
    for stop in [*np.cumsum(packets), force.shape[1]]:
        first = max(settled - 2, 0)  # what came before, for the slope
        part = slice(first, min(int(stop), force.shape[1]))
        settled = first + fill_in(time[part], seen[:, part], clipped[:, part], doubt[part], settled - first)
    return seen, doubt, settled


def along_x(force: np.ndarray) -> np.ndarray:
    return np.stack([force, np.zeros_like(force), np.zeros_like(force)])


@pytest.mark.parametrize("peak_m_s2", [12.0, 15.0, 20.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_what_a_push_lost_beyond_the_range_comes_back(peak_m_s2: float, sign: float) -> None:
    force = sign * along_x(push(peak_m_s2))
    lost_m_s = STEP_S * np.abs(force - np.clip(force, -LIMIT_M_S2, LIMIT_M_S2)).sum()
    seen, doubt, _ = filled(force)
    assert STEP_S * np.abs(force - seen).sum() < 0.25 * lost_m_s
    assert abs(STEP_S * (force - seen).sum()) < STEP_S * doubt.sum()


def test_a_blow_is_taken_to_exceed_the_range_by_what_is_usual_and_doubted() -> None:
    force = along_x(push(0.0))
    force[0, 15] = 60.0
    seen, doubt, _ = filled(force)
    assert seen[0, 15] > LIMIT_M_S2
    assert doubt[15] > 5.0
    assert doubt[[14, 16]].max() == 0.0


def test_a_run_that_nobody_saw_begin_is_a_blow() -> None:
    force = along_x(push(20.0))[:, 25:]
    seen, doubt, _ = filled(force)
    at_limit = np.abs(force[0]) >= LIMIT_M_S2
    assert np.ptp(seen[0, at_limit]) == 0.0
    assert (doubt[at_limit] > 5.0).all()


def test_samples_wait_while_their_run_may_go_on_but_not_for_long() -> None:
    force = along_x(np.concatenate([push(20.0)[:30], np.full(60, 30.0)]))
    first = int(np.argmax(force[0] >= LIMIT_M_S2))
    assert filled(force[:, : first + 5])[2] == first
    assert filled(force[:, : first + round(LONGEST_RUN_S / STEP_S) + 3])[2] > first + 20


@given(
    st.lists(st.sampled_from([0.0, 5.0, 9.0, 15.0, 19.0, 25.0, -25.0, 60.0]), min_size=3, max_size=300),
    st.lists(st.integers(1, 40), max_size=40),
)
def test_how_samples_are_packed_changes_nothing(values: list[float], packets: list[int]) -> None:
    force = np.resize(np.array(values), (3, len(values) // 3))
    at_once, doubt, settled = filled(force)
    in_packets, doubt_then, settled_then = filled(force, *packets)
    assert settled == settled_then
    assert np.array_equal(at_once[:, :settled], in_packets[:, :settled])
    assert np.array_equal(doubt[:settled], doubt_then[:settled])


def test_the_curve_through_both_sides_is_scipy_s() -> None:
    ends, values, slopes = np.array([0.1, 0.16]), np.array([18.0, 19.2]), [300.0, -250.0]
    at = np.linspace(0.1, 0.16, 9)
    assert _cubic(ends, values, slopes, at) == pytest.approx(CubicHermiteSpline(ends, values, slopes)(at))
