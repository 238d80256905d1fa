"""The simulated sensor's noise is that of its data sheet, by an outside library."""

from __future__ import annotations

from dataclasses import replace

import allantools
import numpy as np
import pytest

from simulated_sensor.imu_errors import ideal_sensor, sense
from simulated_sensor.kinematics import GRAVITY_M_S2
from simulated_sensor.velocity_shapes import FINE_RATE_HZ

RATE_HZ = 200.0
DENSITY_M_S2_RTHZ = 200e-6 * GRAVITY_M_S2
STILL = np.tile([0.0, 0.0, GRAVITY_M_S2], (round(400 * FINE_RATE_HZ), 1))


def test_white_noise_has_the_allan_deviation_of_its_density() -> None:
    """IEEE Std 952, annex C: sigma(tau) = N / sqrt(tau), where N^2 is the two-sided density; a data sheet's is
    one-sided, so that N is the density over the root of two."""
    sensor = replace(ideal_sensor(RATE_HZ), acc_noise_m_s2_rthz=DENSITY_M_S2_RTHZ, bits=24, range_g=16.0)
    acc, _ = sense(STILL, np.zeros_like(STILL), sensor, np.random.default_rng(4))
    taus_s = np.array([0.05, 0.2, 1.0])
    for axis in range(3):
        found_s, deviation, *_ = allantools.oadev(acc[:, axis], rate=RATE_HZ, data_type="freq", taus=taus_s)
        expected = DENSITY_M_S2_RTHZ / np.sqrt(2 * found_s)
        assert deviation == pytest.approx(expected, rel=0.1)


def test_a_wandering_bias_shows_in_the_allan_deviation_of_long_times() -> None:
    """IEEE Std 952, annex C: sigma(tau) = K sqrt(tau / 3) for a random walk of K per root second."""
    walk = 0.003
    sensor = replace(ideal_sensor(RATE_HZ), acc_drift_m_s2_rts=walk, bits=24, range_g=16.0)
    acc, _ = sense(STILL, np.zeros_like(STILL), sensor, np.random.default_rng(5))
    taus_s = np.array([1.0, 4.0])
    squares = np.zeros(2)
    for axis in range(3):
        _, deviation, *_ = allantools.oadev(acc[:, axis], rate=RATE_HZ, data_type="freq", taus=taus_s)
        squares += deviation**2 / 3
    assert np.sqrt(squares) == pytest.approx(walk * np.sqrt(taus_s / 3), rel=0.25)
