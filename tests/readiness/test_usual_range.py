"""The usual range: it narrows as sessions come, and wild days, other depths and new bars do not spoil it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.readiness.prior import NO_SQUAD, SquadPrior, WarmupSeries, squad_prior
from station.readiness.results import UsualRange
from station.readiness.usual import usual_for_day
from tests.readiness.histories import DAY, steady, weekly

PRIOR = SquadPrior(1.0, 0.08, 0.0403, trend_sd_m_s=0.0005)
WAVY = tuple(1.0 + 0.03 * (-1) ** n for n in range(12))


def width(usual: UsualRange) -> float:
    return usual.high_m_s - usual.low_m_s


def test_without_history_the_squad_draws_the_range_and_says_so() -> None:
    usual = usual_for_day([], 60.0, DAY, PRIOR)
    assert not usual.enough_history
    assert usual.sessions == 0
    assert usual.expected_m_s == PRIOR.level_m_s
    assert usual.low_m_s < PRIOR.level_m_s - PRIOR.level_sd_m_s


def test_the_range_narrows_as_sessions_come() -> None:
    widths = [width(usual_for_day(weekly(WAVY[:n]), 60.0, DAY, NO_SQUAD)) for n in (0, 1, 3, 10)]
    assert widths == sorted(widths, reverse=True)


def test_three_sessions_are_enough_history_two_are_not() -> None:
    assert [usual_for_day(weekly(WAVY[:n]), 60.0, DAY).enough_history for n in (2, 3)] == [False, True]


def test_one_wild_value_hardly_moves_the_range() -> None:
    wild = [*WAVY[:6], 0.4, *WAVY[7:]]
    usual, spoiled = (usual_for_day(weekly(v), 60.0, DAY, PRIOR) for v in (WAVY, wild))
    assert abs(spoiled.expected_m_s - usual.expected_m_s) < 0.01
    assert width(spoiled) < 1.2 * width(usual)


def test_a_steady_rise_is_followed() -> None:
    rising = [0.9 + 0.01 * week for week in range(15)]
    squad = replace(PRIOR, trend_sd_m_s=0.006)
    assert usual_for_day(weekly(rising), 60.0, DAY, squad).expected_m_s == pytest.approx(1.05, abs=0.02)


def test_an_athlete_who_varies_more_than_the_squad_has_a_wider_range() -> None:
    calm, restless = ([1.0 + a * (-1) ** n for n in range(16)] for a in (0.02, 0.08))
    ranges = [usual_for_day(weekly(v), 60.0, DAY, PRIOR) for v in (calm, restless)]
    assert width(ranges[1]) > 1.4 * width(ranges[0])


def test_what_does_not_count_is_not_history() -> None:
    sets = weekly(WAVY)
    half_hearted = [replace(s, mean_velocity_m_s=0.5, counts=False) for s in weekly([1.0], until=DAY)]
    assert usual_for_day(sets + half_hearted, 60.0, DAY, PRIOR) == usual_for_day(sets, 60.0, DAY, PRIOR)


# -- equipment ----------------------------------------


def with_new_bar(values_after: list[float], today: str = "bar 2") -> UsualRange:
    before = weekly(WAVY, until=DAY - timedelta(weeks=len(values_after)), equipment="bar 1")
    return usual_for_day(before + weekly(values_after, equipment="bar 2"), 60.0, DAY, PRIOR, equipment=today)


def test_a_new_bar_widens_the_range_until_two_sessions_agree() -> None:
    same = width(usual_for_day(weekly(WAVY, equipment="bar 1"), 60.0, DAY, PRIOR, equipment="bar 1"))
    assert width(with_new_bar([])) > 1.25 * same
    assert width(with_new_bar([1.01])) > 1.1 * same
    assert width(with_new_bar([1.01, 0.99])) == pytest.approx(same, rel=0.05)


def test_a_bar_that_weighs_something_else_gets_a_level_of_its_own() -> None:
    heavier = with_new_bar([0.90, 0.92, 0.91, 0.90, 0.92])
    assert heavier.expected_m_s < 0.94


def test_equipment_that_nobody_wrote_down_is_no_change() -> None:
    assert usual_for_day(weekly(WAVY), 60.0, DAY, PRIOR, equipment="bar 1") == usual_for_day(
        weekly(WAVY), 60.0, DAY, PRIOR
    )


# -- like days ----------------------------------------


def test_like_days_weigh_more() -> None:
    kinds = ("MD+2", "MD+3")
    sets = [
        replace(s, like_day=kinds[n % 2], mean_velocity_m_s=0.95 if n % 2 == 0 else 1.03)
        for n, s in enumerate(weekly(WAVY))
    ]
    slow, fast = (usual_for_day(sets, 60.0, DAY, PRIOR, like_day=kind).expected_m_s for kind in kinds)
    assert slow < fast


def test_a_kind_of_day_never_seen_has_a_wider_range() -> None:
    sets = [replace(s, like_day="MD+3") for s in weekly(WAVY)]
    seen, unseen = (usual_for_day(sets, 60.0, DAY, PRIOR, like_day=kind) for kind in ("MD+3", "MD+1"))
    assert width(unseen) > width(seen)


# -- properties and the squad ----------------------------------------


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.2, 1.6), max_size=30), st.floats(0.05, 0.4))
def test_the_range_always_holds_its_middle(values: list[float], level_sd: float) -> None:
    usual = usual_for_day(weekly(values), 60.0, DAY, SquadPrior(0.9, level_sd))
    assert usual.low_m_s < usual.expected_m_s < usual.high_m_s
    assert np.isfinite([usual.low_m_s, usual.high_m_s, usual.sd_m_s]).all()


@settings(max_examples=20, deadline=None)
@given(st.floats(-0.2, 0.2))
def test_a_history_shifted_as_a_whole_shifts_the_range(by: float) -> None:
    squad = replace(NO_SQUAD, level_sd_m_s=100.0)  # nothing known of the level
    one = usual_for_day(weekly(WAVY), 60.0, DAY, squad)
    other = usual_for_day(weekly([v + by for v in WAVY]), 60.0, DAY, squad)
    assert other.expected_m_s - one.expected_m_s == pytest.approx(by, abs=1e-4)
    assert width(other) == pytest.approx(width(one), rel=1e-3)


def test_heavier_sets_sharpen_the_range_a_little() -> None:
    both = steady(10)
    alone = [s for s in both if s.load_kg == 60.0]
    assert usual_for_day(both, 60.0, DAY, PRIOR).sd_m_s < usual_for_day(alone, 60.0, DAY, PRIOR).sd_m_s * 1.02


def series(rng: np.random.Generator, *, wild: bool = False) -> WarmupSeries:
    weeks = np.arange(-12.0, 0.0)
    level, trend, day = rng.normal(1.0, 0.08), rng.normal(0.0, 0.004), rng.normal(0.0, 0.035, 12)
    values = level + trend * weeks + day + rng.normal(0.0, 0.02, 12)
    other = level - 0.4 + trend * weeks + day + rng.normal(0.0, 0.02, 12)
    if wild:
        values[rng.integers(12)] += 0.4
    return WarmupSeries(weeks, values, 60.0, np.full(12, 90.0), other)


@pytest.mark.parametrize("wild", [False, True])
def test_the_squad_teaches_levels_spreads_and_trends_also_with_wild_values(wild: bool) -> None:
    rng = np.random.default_rng(3)
    prior = squad_prior([series(rng, wild=wild) for _ in range(200)])
    assert prior.level_m_s == pytest.approx(1.0, abs=0.02)
    assert prior.level_sd_m_s == pytest.approx(0.08, abs=0.02)
    assert prior.session_sd_m_s == pytest.approx(0.0403, rel=0.07)
    assert prior.set_share == pytest.approx(0.246, abs=0.05)
    assert prior.trend_sd_m_s == pytest.approx(0.004, abs=0.0015)
    assert prior.fall_m_s == pytest.approx(0.8, abs=0.03)


def test_two_athletes_are_no_squad() -> None:
    assert squad_prior([series(np.random.default_rng(1))] * 2) is NO_SQUAD
