"""The own usual range of jumps and check-ins, against scipy and published arithmetic."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats

from station.readiness.checkin_place import SUM_SD_FLOOR, place_check_in, sum_sd
from station.readiness.jump_place import place_jump, usual_jump
from station.readiness.own_usual import own_usual, pooled_sd
from station.squad.calendar import AfterMatch
from station.squad.checkins import ITEM_KEYS, CheckIn, CheckInKind
from station.squad.jumps import JumpDay, JumpTrial, mean_and_best, reactive_strength

DAY = date(2026, 10, 14)


def test_with_a_long_history_it_is_the_textbook_prediction_interval() -> None:
    values = np.random.default_rng(1).normal(10.0, 2.0, 400)
    usual = own_usual(list(values), 2.0, 0.1)
    assert usual is not None
    mean, sd, n = values.mean(), values.std(ddof=1), len(values)
    low, high = stats.t.interval(0.80, n - 1, mean, sd * np.sqrt(1 + 1 / n))
    assert (usual.low, usual.high) == pytest.approx((low, high), abs=0.01)
    assert usual.chance_at_most(low) == pytest.approx(0.10, abs=0.002)


@pytest.mark.parametrize("n", [3, 5, 10, 28])
def test_a_short_history_calls_false_no_more_often_than_a_long_one(n: int) -> None:
    rng = np.random.default_rng(n)
    calls = []
    for _ in range(4000):
        values = rng.normal(0.0, 1.0, n + 1)
        usual = own_usual(list(values[:-1]), 1.0, 0.01)
        assert usual is not None
        calls.append(usual.chance_at_most(values[-1]) < 0.025)
    assert 0.010 < np.mean(calls) < 0.030  # with few days it errs on the quiet side


def test_the_spread_is_never_smaller_than_its_floor() -> None:
    usual = own_usual([20.0] * 20, 0.2, SUM_SD_FLOOR)
    assert usual is not None
    assert usual.sd >= SUM_SD_FLOOR


def test_without_a_day_there_is_nothing_usual_and_under_three_it_is_too_little() -> None:
    assert own_usual([], 1.0, 0.1) is None
    few = own_usual([1.0, 2.0], 1.0, 0.1)
    assert few is not None
    assert not few.enough


def test_the_squads_spread_is_the_pooled_one() -> None:
    series = [[1.0, 3.0], [10.0, 14.0]]  # squares 2 + 8 on one degree of freedom each, ten more at 1
    assert pooled_sd(series, 1.0) == pytest.approx(np.sqrt((10 + 2 + 8) / 12))


def check_in(answers: list[int], day: date) -> CheckIn:
    return CheckIn("a", day, CheckInKind.ANSWERED, dict(zip(ITEM_KEYS, answers, strict=True)))


def history(answers: list[int], days: int) -> list[CheckIn]:
    return [check_in(answers, DAY - timedelta(days=days - n)) for n in range(days)]


def test_an_item_is_a_rank_among_the_own_answers_and_its_z_has_a_floor() -> None:
    earlier = history([4, 4, 4, 4, 4], 20)
    place = place_check_in(check_in([4, 4, 2, 4, 4], DAY), earlier, sum_sd([earlier]))
    assert place is not None
    soreness = next(i for i in place.items if i.item == "soreness")
    assert (soreness.as_low, soreness.of) == (0, 20)
    assert soreness.z == pytest.approx(-4.0)  # two steps, floor of half a step


def test_one_step_below_an_always_equal_sum_is_not_clearly_below() -> None:
    earlier = history([4, 4, 4, 4, 4], 28)
    sd = sum_sd([earlier])
    one_step = place_check_in(check_in([4, 4, 3, 4, 4], DAY), earlier, sd)
    many = place_check_in(check_in([2, 3, 2, 3, 3], DAY), earlier, sd)
    assert one_step is not None
    assert one_step.chance_below is not None
    assert one_step.chance_below > 0.1
    assert many is not None
    assert many.chance_below is not None
    assert many.chance_below < 0.025


def test_unanswered_items_give_no_sum() -> None:
    missing = CheckIn("a", DAY, CheckInKind.ANSWERED, {"mood": 4})
    assert place_check_in(missing, history([4] * 5, 10), 2.0) is None


def jumps(heights: list[float], after: AfterMatch) -> list[JumpDay]:
    return [
        JumpDay("a", DAY - timedelta(days=7 * (len(heights) - n)), h, h, 3, after)
        for n, h in enumerate(heights)
    ]


def test_jumps_are_compared_with_days_like_today() -> None:
    third = jumps([0.36, 0.35, 0.37, 0.36], AfterMatch(3))
    second = jumps([0.33, 0.32, 0.34, 0.33], AfterMatch(2))
    sat_out = jumps([0.40] * 4, AfterMatch(2, played=False))
    today = JumpDay("a", DAY, 0.33, 0.34, 3, AfterMatch(2))
    place = place_jump(today, [*third, *second, *sat_out], 0.015)
    assert place.usual is not None
    assert place.usual.days == 4
    assert place.usual.mean == pytest.approx(0.33)
    assert usual_jump(third, AfterMatch(2), 0.015) is None
    assert place_jump(today, second[:2], 0.015).chance_below is None  # too little history


def test_a_rested_day_is_compared_with_days_four_or_more_after_a_match() -> None:
    earlier = [
        *jumps([0.30], AfterMatch(3)),
        *jumps([0.36, 0.37], AfterMatch(5)),
        *jumps([0.38], AfterMatch(None)),
    ]
    usual = usual_jump(earlier, AfterMatch(None), 0.015)
    assert usual is not None
    assert usual.days == 3
    assert usual.mean == pytest.approx(0.37)


def test_the_mean_leads_and_trials_that_are_not_valid_do_not_count() -> None:
    def trial(h: float, *, valid: bool = True) -> JumpTrial:
        return JumpTrial("", "a", DAY, h, h, h, None, None, 0.5, (), valid)

    assert mean_and_best([trial(0.30), trial(0.34), trial(0.50, valid=False)]) == pytest.approx((0.32, 0.34))
    assert mean_and_best([trial(0.5, valid=False)]) is None


def test_reactive_strength_is_height_over_time_to_takeoff() -> None:
    assert reactive_strength(0.35, 0.70) == pytest.approx(0.5)
    assert reactive_strength(0.35, None) is None
