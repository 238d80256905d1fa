"""Agreement of two devices and repeatability of one, against a published worked example and by construction."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.readiness.agreement import agreement, repeatability

# Peak expiratory flow of 17 people by two meters, l/min: Bland & Altman, Lancet 1986;327:307-310, table 1 (copied
# from memory; its published results are the check): mean difference -2.1, SD 38.8, limits of two SD -79.7 to 75.5.
WRIGHT = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def test_the_worked_example_of_bland_and_altman() -> None:
    found = agreement(np.array(WRIGHT, float), np.array(MINI, float))
    assert found.bias == pytest.approx(-2.1, abs=0.05)
    assert found.sd == pytest.approx(38.8, abs=0.05)
    assert (found.lower, found.upper) == pytest.approx((-78.1, 73.9), abs=0.1)  # 1.96 SD; the paper takes 2


def test_a_device_that_reads_in_proportion_has_a_slope() -> None:
    truth = np.linspace(0.3, 1.2, 20)
    found = agreement(1.1 * truth, truth)
    assert found.slope == pytest.approx(0.1 / 1.05)
    assert found.bias == pytest.approx(0.1 * truth.mean())


def test_too_few_repetitions_are_refused() -> None:
    with pytest.raises(ValueError, match="there are 2"):
        agreement(np.array([0.5, 0.6]), np.array([0.5, 0.6]))


def test_the_criterion_is_met_below_seven_centimetres_a_second() -> None:
    rng = np.random.default_rng(1)
    truth = rng.uniform(0.3, 1.0, 200)
    assert agreement(truth + rng.normal(0, 0.01, 200), truth).meets_criterion
    assert not agreement(truth + rng.normal(0, 0.06, 200), truth).meets_criterion


def test_the_typical_error_is_that_of_a_days_value() -> None:
    rng = np.random.default_rng(2)
    days = {who: list(0.6 + rng.normal(0, 0.03, 8)) for who in range(300)}
    found = repeatability(days)
    assert found is not None
    assert found.typical_error == pytest.approx(0.03, rel=0.1)
    assert found.detectable == pytest.approx(1.96 * np.sqrt(2) * found.typical_error)


def test_a_change_that_all_share_is_no_error() -> None:
    assert repeatability({who: [0.5 + 0.01 * who, 0.6 + 0.01 * who] for who in range(5)}) is not None
    found = repeatability({who: [0.5 + 0.01 * who, 0.6 + 0.01 * who] for who in range(5)})
    assert found is not None
    assert found.typical_error == pytest.approx(0.0, abs=1e-12)


def test_one_day_alone_says_nothing_about_days() -> None:
    assert repeatability({"a": [0.5], "b": [0.6]}) is None


@given(st.lists(st.floats(0.2, 1.5), min_size=3, max_size=30), st.floats(-0.2, 0.2))
def test_a_constant_difference_is_all_bias(speeds: list[float], off: float) -> None:
    found = agreement(np.array(speeds) + off, np.array(speeds))
    assert found.bias == pytest.approx(off, abs=1e-9)
    assert found.sd == pytest.approx(0.0, abs=1e-9)
