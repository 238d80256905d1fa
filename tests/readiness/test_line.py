"""The load-velocity line: least squares that agrees with certified values, and with the worked example."""

from __future__ import annotations

import numpy as np
import pytest

from station.readiness.line import fit_line
from station.squad.lifts import LIFTS

# NIST StRD "Norris", 36 observations, y = B0 + B1 x; certified values as printed by NIST.
NORRIS_X = (
    "0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0 "
    "228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"
)
NORRIS_Y = (
    "0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7 "
    "228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"
)


def test_norris_of_nist_comes_out_as_certified() -> None:
    x, y = (np.array([float(v) for v in text.split()]) for text in (NORRIS_X, NORRIS_Y))
    line = fit_line(x, y)
    assert line.intercept_m_s == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.slope_m_s_per_kg == pytest.approx(1.00211681802045, rel=1e-11)
    assert line.residual_sd_m_s == pytest.approx(0.884796396144373, rel=1e-9)
    assert np.sqrt(line.covariance[0, 0]) == pytest.approx(0.232818234301152, rel=1e-9)
    assert np.sqrt(line.covariance[1, 1]) == pytest.approx(0.429796848199937e-03, rel=1e-9)


def test_the_worked_example_gives_its_one_rm() -> None:
    # Worked arithmetic: v on L, 60/80/100/120 kg, 1.12/0.88/0.71/0.49 m/s, velocity at 1RM 0.30: 138.5437 kg.
    line = fit_line([60, 80, 100, 120], [1.12, 0.88, 0.71, 0.49])
    assert line.slope_m_s_per_kg == pytest.approx(-0.01030, abs=1e-8)
    assert line.intercept_m_s == pytest.approx(1.7270, abs=1e-8)
    assert line.load_kg(0.30) == pytest.approx(138.5437, abs=5e-5)
    assert line.residual_sd_m_s == pytest.approx(0.02025, abs=5e-6)


def test_a_perfect_line_is_found_exactly() -> None:
    line = fit_line([60, 80, 100, 120], [1.10, 0.90, 0.70, 0.50])
    assert line.load_kg(0.30) == pytest.approx(140.0, abs=1e-6)


def test_one_load_alone_is_no_line() -> None:
    with pytest.raises(ValueError, match="two different loads"):
        fit_line([60, 60], [1.0, 1.1])


def test_loads_on_velocities_would_be_another_line() -> None:
    # The same four sets regressed the other way give 138.3568 kg (worked arithmetic): the two must not be mixed.
    loads, velocities = [60.0, 80.0, 100.0, 120.0], [1.12, 0.88, 0.71, 0.49]
    other_way = fit_line(velocities, loads)
    assert other_way.velocity_m_s(0.30) == pytest.approx(138.3568, abs=5e-5)


# -- published tables ---------------------------------------------------------------

# Full squat, mean velocity (m/s) at 60 to 100 % of the maximum: roots of -12.87 v^2 - 46.31 v + 116.3 = %
# (Sanchez-Medina et al. 2017, doi 10.1055/s-0043-102933; coefficients seen in public code that cites it).
SQUAT = {60: 0.960, 70: 0.815, 80: 0.662, 90: 0.499, 100: 0.323}
# Bench press, mean propulsive velocity: 8.4326 v^2 - 73.501 v + 112.33 = % (Gonzalez-Badillo & Sanchez-Medina 2010,
# doi 10.1055/s-0030-1248333; coefficients from memory).
BENCH = {60: 0.782, 70: 0.620, 80: 0.465, 90: 0.315, 100: 0.171}


@pytest.mark.parametrize("table", [SQUAT, BENCH])
def test_a_line_through_published_velocities_finds_the_maximum_within_the_published_error(
    table: dict[int, float],
) -> None:
    # Published errors of single estimates are 5 to 8 % of the maximum at best; the line's own bend must stay below.
    loads = [60, 70, 80]
    line = fit_line(loads, [table[load] for load in loads])
    assert line.load_kg(table[100]) == pytest.approx(100.0, abs=5.0)


def test_velocities_at_the_maximum_are_the_published_ones() -> None:
    # 0.32 +/- 0.03 full squat (2017), 0.16 +/- 0.04 bench press (2010), 0.25 +/- 0.03 hip thrust (de Hoyo 2021).
    known = {name: (LIFTS[name].velocity_at_1rm_m_s, LIFTS[name].velocity_at_1rm_sd_m_s) for name in LIFTS}
    assert known["back squat"] == (0.32, 0.03)
    assert known["bench press"] == (0.16, 0.04)
    assert known["hip thrust"] == (0.25, 0.03)
