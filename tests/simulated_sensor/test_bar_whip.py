"""A whipping bar: a damped oscillator, checked against its closed form."""

from __future__ import annotations

import numpy as np
import pytest

from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.shaking import bar_whip
from simulated_sensor.velocity_shapes import FINE_RATE_HZ


def test_a_bar_at_rest_or_at_constant_speed_does_not_bend() -> None:
    time = np.arange(0.0, 4.0, 1 / FINE_RATE_HZ)
    assert np.abs(bar_whip(np.full(len(time), 0.4))).max() == 0.0
    assert np.abs(bar_whip(0.5 * time)[-100:]).max() < 1e-6


def test_it_swings_on_after_a_sudden_stop_with_the_decay_of_its_damping() -> None:
    time = np.arange(0.0, 3.0, 1 / FINE_RATE_HZ)
    bent = bar_whip(np.where(time < 1.0, 0.4 * (1.0 - time), 0.0))
    period_s = 1 / (7.0 * np.sqrt(1 - 0.1**2))
    peaks = [
        np.abs(bent[(time > 1.0 + k * period_s) & (time < 1.0 + (k + 1) * period_s)]).max() for k in range(3)
    ]
    decay = np.exp(
        -2 * np.pi * 0.1 / np.sqrt(1 - 0.1**2)
    )  # logarithmic decrement, e.g. Thomson, Theory of Vibration
    assert peaks[1] / peaks[0] == pytest.approx(decay, rel=0.02)
    assert peaks[2] / peaks[1] == pytest.approx(decay, rel=0.02)


def test_it_swings_on_no_longer_where_its_plates_stand_on_the_floor() -> None:
    time = np.arange(0.0, 3.0, 1 / FINE_RATE_HZ)
    height_m = np.where(time < 1.0, 0.4 * (1.0 - time), 0.0)
    landed = round(1.0 * FINE_RATE_HZ)
    free, stands = bar_whip(height_m), bar_whip(height_m, [(landed, len(time))])
    later = time > 1.06
    assert np.abs(stands[later]).max() < 0.02 * np.abs(free[later]).max()
    assert np.array_equal(free[:landed], stands[:landed])


def test_a_bar_swings_again_when_it_has_left_the_floor() -> None:
    time = np.arange(0.0, 4.0, 1 / FINE_RATE_HZ)
    height_m = 0.4 * np.clip(time - 2.0, 0.0, 0.5)
    stood = bar_whip(height_m, [(0, round(1.9 * FINE_RATE_HZ))])
    assert stood == pytest.approx(bar_whip(height_m), abs=1e-6)


def test_the_truth_is_that_of_the_bent_bar_at_the_clamp() -> None:
    plan = PlannedSet("back squat", (0.7, 0.6), 0.6)
    stiff, whipping = (make_session_trace([plan], seed=4, whip=whip) for whip in (False, True))
    assert len(stiff.truth) == len(whipping.truth) == 2
    for one, other in zip(stiff.truth, whipping.truth, strict=True):
        assert one.mean_velocity_m_s != other.mean_velocity_m_s
        assert one.mean_velocity_m_s == pytest.approx(other.mean_velocity_m_s, abs=0.03)
