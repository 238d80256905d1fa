"""Over the season and within the set: what is said, and what is left unsaid where the data don't carry it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from station.readiness.prior import NO_SQUAD
from station.readiness.season import Trend, lifts_not_done, season_trend
from station.readiness.sensitivity import strength_drop, warmup_shows
from station.readiness.within_set import in_band, reps_left, stop_reached, velocity_loss
from station.squad.athletes import TrainingStatus
from station.squad.calendar import like_day, match_distance
from station.squad.sets import SetObservation
from station.squad.status import Restriction, permission
from tests.readiness.histories import DAY, LIFT, steady, weekly

DRIFTING = replace(NO_SQUAD, trend_sd_m_s=0.006)


def trending(per_week: float, weeks: int = 14) -> Trend:
    values = [1.0 + per_week * w + 0.01 * (-1) ** w for w in range(weeks)]
    return season_trend(weekly(values), 60.0, DAY, DRIFTING).trend


def test_strength_that_rises_falls_or_holds_is_told_apart() -> None:
    assert trending(0.012) is Trend.RISING
    assert trending(-0.012) is Trend.FALLING
    steady_prior = replace(NO_SQUAD, trend_sd_m_s=0.001)
    assert season_trend(steady(14), 60.0, DAY, steady_prior).trend is Trend.HOLDING


def test_few_sessions_or_wild_ones_cannot_say() -> None:
    assert season_trend(weekly([1.0, 1.1, 1.2]), 60.0, DAY).trend is Trend.CANNOT_SAY
    restless = weekly([1.0 + 0.1 * (-1) ** w for w in range(8)])
    assert season_trend(restless, 60.0, DAY, DRIFTING).trend is Trend.CANNOT_SAY


def test_a_lift_not_done_for_three_weeks_is_pointed_out() -> None:
    sets = [
        SetObservation("a", DAY - timedelta(days=d), lift, 60.0, 1.0)
        for d, lift in ((30, "deadlift"), (5, LIFT))
    ]
    assert lifts_not_done(sets, DAY) == [("deadlift", DAY - timedelta(days=30))]
    assert lifts_not_done(sets, DAY - timedelta(days=10)) == []


# -- the warm-up load -------------------------------------------------------------


def test_five_percent_at_half_of_the_maximum_move_the_squat_by_0_036() -> None:
    # Full squat, mean velocity: 1.097 m/s at 50 % and 0.323 at 100 % of the maximum (Sanchez-Medina et al. 2017, doi
    # 10.1055/s-0043-102933), so a straight line falls 0.774 m/s over the second half; the curve itself gives
    # 0.036 for a loss of 5 %, the straight line a little more.
    assert strength_drop(0.0405, 0.774) == pytest.approx(0.05, abs=0.001)


def test_a_light_load_shows_little_and_a_heavier_one_is_named() -> None:
    light = [
        replace(s, load_kg=30.0, mean_velocity_m_s=s.mean_velocity_m_s + 0.34)
        for s in steady(10)
        if s.load_kg == 60
    ]
    both = sorted(light + [s for s in steady(10) if s.load_kg == 95], key=lambda s: s.day)
    weak, strong = warmup_shows(both, 30.0, DAY), warmup_shows(steady(10), 60.0, DAY)
    assert not weak.enough
    assert weak.strength_drop is not None
    assert strong.strength_drop is not None
    assert strong.strength_drop < weak.strength_drop
    assert "30 kg shows a loss of strength only from" in weak.in_words(30.0)
    if weak.better_load_kg is not None:
        assert weak.better_load_kg > 30.0


# -- within the set ---------------------------------------------------------------


def test_velocity_loss_is_from_the_sets_own_fastest_rep() -> None:
    # Worked arithmetic: 21.67 % from the first (fastest) rep; 21.57 % where the second was fastest.
    assert velocity_loss([0.60, 0.58, 0.55, 0.52, 0.47]) == pytest.approx(0.2167, abs=5e-5)
    assert velocity_loss([1.00, 1.02, 0.95, 0.80]) == pytest.approx(0.2157, abs=5e-5)
    assert velocity_loss([0.6]) is None


def test_the_stop_is_between_ten_and_forty_percent() -> None:
    assert stop_reached([1.0, 0.8], 0.20)
    assert not stop_reached([1.0, 0.81], 0.20)
    with pytest.raises(ValueError, match="between 10 and 40 %"):
        stop_reached([1.0, 0.8], 0.50)


def test_a_rep_lies_below_in_or_above_the_band() -> None:
    assert [in_band(v, (0.5, 0.7)) for v in (0.49, 0.5, 0.71)] == ["below", "in", "above"]


def test_reps_left_come_from_own_sets_to_the_limit_alone() -> None:
    own = [[1.0 - 0.08 * k for k in range(n)] for n in (7, 8, 8)]
    left = reps_left([0.0, 0.08, 0.16], own)
    assert left is not None
    assert left.low < left.expected < left.high
    assert left.expected == pytest.approx(4.8, abs=0.7)  # sets of 7, 8, 8 reps: at rep 3, 4 to 5 are left
    assert reps_left([0.0, 0.08], own[:2]) is None
    unlike = [[1.0, 0.9, 0.8], [1.0 - 0.02 * k for k in range(15)], [1.0 - 0.05 * k for k in range(9)]]
    assert reps_left([0.0, 0.1], unlike) is None


# -- calendar and status ----------------------------------------------------------

MATCHES = (date(2026, 10, 3), date(2026, 10, 10))


def test_days_are_like_by_the_last_match_and_who_played() -> None:
    tuesday = date(2026, 10, 13)
    assert match_distance(tuesday, MATCHES).since_last == 3
    assert match_distance(date(2026, 10, 8), MATCHES).until_next == 2
    assert like_day(tuesday, MATCHES) == like_day(tuesday, MATCHES, [date(2026, 10, 10)]) == "MD+3"
    assert like_day(tuesday, MATCHES, []) == "MD+3, did not play"
    assert like_day(date(2026, 11, 20), MATCHES) == "no match"
    assert like_day(tuesday, ()) == ""


def test_a_restriction_names_lifts_and_ends() -> None:
    knee = Restriction(TrainingStatus.MODIFIED, (LIFT,), 80.0, until=DAY)
    assert permission(LIFT, DAY, [knee], 100.0).ceiling_kg == 80.0
    assert not permission(LIFT, DAY, [knee], 100.0).withheld
    assert permission("bench press", DAY, [knee], 100.0).ceiling_kg == 100.0
    assert permission(LIFT, DAY + timedelta(days=1), [knee]).ceiling_kg is None


def test_out_pain_and_a_forbidden_lift_withhold() -> None:
    assert permission(LIFT, DAY, [Restriction(TrainingStatus.OUT)]).withheld
    assert permission(LIFT, DAY, [Restriction(TrainingStatus.MODIFIED, (LIFT,))]).withheld
    assert permission(LIFT, DAY, unwell_today=True).withheld
    assert not permission(LIFT, DAY, [Restriction(TrainingStatus.FULL)]).withheld
