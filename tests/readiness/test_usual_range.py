"""The usual range: 80 % of unchanged days lie in it, and one wild day does not spoil it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.readiness.usual import NO_SQUAD, SquadPrior, WarmupSeries, squad_prior, usual_range

# The spread of a standard squad: day SD 0.035, set noise SD 0.020 m/s.
SESSION_SD = float(np.hypot(0.035, 0.020))
PRIOR = SquadPrior(1.0, 0.08, SESSION_SD, trend_sd_m_s=0.0005)
DRIFTING = SquadPrior(1.0, 0.08, SESSION_SD, trend_sd_m_s=0.005)


def share_inside(sessions: int, prior: SquadPrior = PRIOR, seed: int = 1) -> float:
    """Share of unchanged days inside the range, over simulated athletes (simulated, seeded)."""
    rng = np.random.default_rng(seed)
    inside = 0
    athletes = 3000
    for _ in range(athletes):
        trend = rng.normal(0.0, prior.trend_sd_m_s)
        level = rng.normal(1.0, 0.08) + trend * np.arange(sessions + 1)
        values = level + rng.normal(0.0, SESSION_SD, sessions + 1)
        usual = usual_range(values[:-1], np.arange(sessions, dtype=float), float(sessions), prior)
        inside += usual.low_m_s <= values[-1] <= usual.high_m_s
    return inside / athletes


@pytest.mark.parametrize("sessions", [6, 12, 20])
def test_eighty_percent_of_unchanged_days_lie_inside(sessions: int) -> None:
    # Binomial SE of 3000 draws at 0.8 is 0.0073; 0.03 is the model's 0.02 and about one SE and a half.
    assert share_inside(sessions) == pytest.approx(0.80, abs=0.03)


@pytest.mark.parametrize("sessions", [3, 4, 5])
def test_short_histories_are_covered_too(sessions: int) -> None:
    assert 0.77 <= share_inside(sessions) <= 0.86


def test_a_slow_drift_is_followed() -> None:
    # Trends of up to 1 % of strength a week, whose 5 % are worth 0.04 m/s: two SDs of 0.004 m/s.
    assert 0.77 <= share_inside(12, DRIFTING) <= 0.86


def test_without_history_the_squad_draws_the_range_and_says_so() -> None:
    usual = usual_range([], [], 0.0, PRIOR)
    assert not usual.enough_history
    assert usual.sessions == 0
    assert usual.expected_m_s == PRIOR.level_m_s
    assert usual.low_m_s < PRIOR.level_m_s - PRIOR.level_sd_m_s


def test_the_range_narrows_as_sessions_come() -> None:
    weeks = np.arange(12.0)
    values = np.full(12, 1.0) + np.tile([0.03, -0.03], 6)
    widths = [
        usual_range(values[:n], weeks[:n], float(n), NO_SQUAD).high_m_s
        - usual_range(values[:n], weeks[:n], float(n), NO_SQUAD).low_m_s
        for n in (0, 1, 3, 10)
    ]
    assert widths == sorted(widths, reverse=True)


def test_one_wild_value_hardly_moves_the_range() -> None:
    weeks = np.arange(12.0)
    values = np.full(12, 1.0) + np.tile([0.03, -0.03], 6)
    wild = values.copy()
    wild[6] = 0.4
    usual, spoiled = (usual_range(v, weeks, 12.0, PRIOR) for v in (values, wild))
    assert abs(spoiled.expected_m_s - usual.expected_m_s) < 0.02
    assert spoiled.high_m_s - spoiled.low_m_s < 1.5 * (usual.high_m_s - usual.low_m_s)


def test_a_change_of_equipment_widens_the_range() -> None:
    plain = usual_range([1.0, 1.02, 0.98], [0, 1, 2], 3, PRIOR)
    changed = usual_range([1.0, 1.02, 0.98], [0, 1, 2], 3, PRIOR, extra_sd_m_s=0.04)
    assert changed.high_m_s > plain.high_m_s
    assert changed.low_m_s < plain.low_m_s


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0.2, 1.6), max_size=30), st.floats(0.05, 0.4))
def test_the_range_always_holds_its_middle(values: list[float], level_sd: float) -> None:
    usual = usual_range(values, list(range(len(values))), len(values), SquadPrior(0.9, level_sd))
    assert usual.low_m_s < usual.expected_m_s < usual.high_m_s
    assert np.isfinite([usual.low_m_s, usual.high_m_s, usual.sd_m_s]).all()


def test_the_squad_teaches_level_and_spread() -> None:
    rng = np.random.default_rng(3)
    weeks = np.arange(12.0)
    squad = [
        WarmupSeries(
            weeks, rng.normal(1.0, 0.08) + rng.normal(0.0, 0.004) * weeks + rng.normal(0.0, 0.04, 12)
        )
        for _ in range(300)
    ]
    prior = squad_prior(squad)
    assert prior.level_m_s == pytest.approx(1.0, abs=0.02)
    assert prior.trend_sd_m_s == pytest.approx(0.004, abs=0.0015)
    assert prior.level_sd_m_s == pytest.approx(0.08, abs=0.015)
    assert prior.session_sd_m_s == pytest.approx(0.04, abs=0.003)


def test_two_athletes_are_no_squad() -> None:
    assert squad_prior([WarmupSeries(np.arange(2.0), np.array([1.0, 1.1]))] * 2) is NO_SQUAD
