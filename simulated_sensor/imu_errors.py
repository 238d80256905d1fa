"""What a cheap inertial sensor makes of the motion it feels.

Orders of magnitude from data sheets of general-purpose six-axis parts (accelerometer noise 65 to 400 ug/rtHz,
zero-g offset 20 to 80 mg, gyro noise 3 to 8 mdps/rtHz, zero-rate level 0.5 to 10 deg/s).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import butter, lfilter

from drivers.samples import FloatArray
from simulated_sensor.kinematics import GRAVITY_M_S2
from simulated_sensor.velocity_shapes import FINE_RATE_HZ

_MG = 1e-3 * GRAVITY_M_S2


@dataclass(frozen=True, eq=False, slots=True)
class SensorErrors:
    """One sensor's errors, as they are after any bench calibration.

    Attributes:
        rate_hz: true output rate.
        range_g: accelerometer range; beyond it samples clip.
        bits: word length of both sensors.
        acc_matrix: scale, misalignment and cross-axis, shape (3, 3).
        acc_bias_m_s2, gyr_bias_rad_s: shape (3,).
        acc_noise_m_s2_rthz, gyr_noise_rad_s_rthz: white noise densities.
        acc_drift_m_s2_rts: random walk of the accelerometer bias, m/s2 per root second.
        gyr_scale: relative scale error of the gyro.
        has_gyro: False: an accelerometer alone.
    """

    rate_hz: float
    range_g: float
    bits: int
    acc_matrix: FloatArray
    acc_bias_m_s2: FloatArray
    gyr_bias_rad_s: FloatArray
    acc_noise_m_s2_rthz: float
    gyr_noise_rad_s_rthz: float
    acc_drift_m_s2_rts: float
    gyr_scale: float
    has_gyro: bool = True
    gyr_range_deg_s: float = 2000.0


def ideal_sensor(rate_hz: float = 200.0, *, has_gyro: bool = True) -> SensorErrors:
    """A sensor without errors but its sampling: for closed-form checks."""
    nothing = np.zeros(3)
    return SensorErrors(rate_hz, 1000.0, 32, np.eye(3), nothing, nothing, 0.0, 0.0, 0.0, 0.0, has_gyro)


def bench_calibrated_sensor(
    rng: np.random.Generator,
    *,
    nominal_rate_hz: float = 200.0,
    rate_error: float | None = None,
    range_g: float = 16.0,
    has_gyro: bool = True,
) -> SensorErrors:
    """Scale 0.4 %, bias 15 mg, misalignment 0.3 degrees, everything else at mid-range."""
    return _draw(rng, nominal_rate_hz, rate_error, range_g, has_gyro, scale=0.004, bias_mg=15.0, tilt_deg=0.3)


def uncalibrated_sensor(rng: np.random.Generator, *, nominal_rate_hz: float = 200.0) -> SensorErrors:
    """As it comes out of the box: scale 3 %, bias 40 mg, cross-axis 1 %."""
    return _draw(rng, nominal_rate_hz, None, 16.0, True, scale=0.03, bias_mg=40.0, tilt_deg=0.6)


def _draw(
    rng: np.random.Generator,
    nominal_rate_hz: float,
    rate_error: float | None,
    range_g: float,
    has_gyro: bool,
    *,
    scale: float,
    bias_mg: float,
    tilt_deg: float,
) -> SensorErrors:
    off_nominal = rng.choice([-1, 1]) * 0.025 if rate_error is None else rate_error
    matrix = np.diag(1 + rng.choice([-1, 1], 3) * scale)
    cross = np.radians(tilt_deg) * rng.normal(0, 1, (3, 3))
    matrix += cross - np.diag(np.diag(cross))
    return SensorErrors(
        rate_hz=nominal_rate_hz * (1 + off_nominal),
        range_g=range_g,
        bits=16,
        acc_matrix=matrix,
        acc_bias_m_s2=rng.choice([-1, 1], 3) * bias_mg * _MG,
        gyr_bias_rad_s=np.radians(rng.uniform(-2.5, 2.5, 3)),
        acc_noise_m_s2_rthz=200e-6 * GRAVITY_M_S2,
        gyr_noise_rad_s_rthz=np.radians(5e-3),
        acc_drift_m_s2_rts=0.1 * _MG,
        gyr_scale=rng.choice([-1, 1]) * 0.01,
        has_gyro=has_gyro,
    )


def sense(
    force_m_s2: FloatArray, rate_rad_s: FloatArray, errors: SensorErrors, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray | None]:
    """Samples (n, 3) of specific force and angular rate from their fine-grid courses: filtered, sampled, spoiled."""
    acc = _sampled(force_m_s2, errors.rate_hz)
    root_rate = np.sqrt(errors.rate_hz / 2)
    walk = rng.normal(0, 1, acc.shape).cumsum(axis=0) * errors.acc_drift_m_s2_rts / np.sqrt(errors.rate_hz)
    acc = acc @ errors.acc_matrix.T + errors.acc_bias_m_s2 + walk
    acc += rng.normal(0, 1, acc.shape) * errors.acc_noise_m_s2_rthz * root_rate
    acc = _digitised(acc, errors.range_g * GRAVITY_M_S2, errors.bits)
    if not errors.has_gyro:
        return acc, None
    gyr = _sampled(rate_rad_s, errors.rate_hz) * (1 + errors.gyr_scale) + errors.gyr_bias_rad_s
    gyr += rng.normal(0, 1, gyr.shape) * errors.gyr_noise_rad_s_rthz * root_rate
    return acc, _digitised(gyr, np.radians(errors.gyr_range_deg_s), errors.bits)


def _sampled(course: FloatArray, rate_hz: float) -> FloatArray:
    """The sensor's own low-pass (second order at 0.4 of the output rate), then sampling at its own rate."""
    b, a = butter(2, 0.4 * rate_hz, fs=FINE_RATE_HZ)
    settled = course[:1] * np.ones((200, 1))
    smooth = lfilter(b, a, np.vstack([settled, course]), axis=0)[200:]
    grid = np.arange(len(course)) / FINE_RATE_HZ
    time = np.arange(int(grid[-1] * rate_hz) + 1) / rate_hz
    return np.column_stack([np.interp(time, grid, smooth[:, axis]) for axis in range(3)])


def _digitised(values: FloatArray, full_scale: float, bits: int) -> FloatArray:
    step = full_scale / 2 ** (bits - 1)
    clipped: FloatArray = np.clip(np.round(values / step) * step, -full_scale, full_scale - step)
    return clipped
