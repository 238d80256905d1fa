"""The simple rules beside the model are computed as published, so that the comparison is fair."""

from __future__ import annotations

import pytest

from tests.validation.yardsticks import ewma, ewma_limits, last_six, two_point_1rm_kg

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4, doi 10.18434/M32189: the worked EWMA example.
NIST_DATA = (
    "52.0 47.0 53.0 49.3 50.1 47.0 51.0 50.1 51.2 50.5 49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1"
)
NIST_EWMA = (
    "50.00 50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 50.11 49.36 49.52 50.05 49.38 49.92 50.73 "
    "51.23 51.94 51.99"
)


def test_the_moving_average_is_that_of_the_handbook() -> None:
    smoothed = ewma([float(v) for v in NIST_DATA.split()], 50.0)
    assert smoothed == pytest.approx([float(v) for v in NIST_EWMA.split()], abs=0.0051)


def test_its_limits_are_those_of_the_handbook() -> None:
    # Printed 52.5884 and 47.4115, with a truncated factor.
    assert ewma_limits(50.0, 2.0539) == pytest.approx((47.4115, 52.5884), abs=2e-4)


def test_the_last_six_rule_needs_six() -> None:
    assert last_six([1.0] * 5) is None
    assert last_six([9.0, 0.9, 1.1, 0.9, 1.1, 0.9, 1.1]) == pytest.approx((0.8598, 1.1402), abs=1e-3)


def test_two_points_make_a_line() -> None:
    # 1.10 at 60 and 0.70 at 100 kg fall to 0.30 at 140 kg (worked arithmetic).
    assert two_point_1rm_kg((60.0, 100.0), (1.10, 0.70), 0.30) == pytest.approx(140.0)
