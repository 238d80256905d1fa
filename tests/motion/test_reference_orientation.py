"""Attitude and strapdown integration against vqf on the same motion (against scipy: closed forms)."""

from __future__ import annotations

import numpy as np
import pytest
import vqf
from scipy.spatial.transform import Rotation

from simulated_sensor.imu_errors import ideal_sensor
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace
from station.motion.attitude import AttitudeChain
from station.motion.engine import MotionEngine
from station.motion.frames import frame_ends, padded, turned_within
from station.squad.lifts import lift_named
from tests.motion.streams import as_block, reps_of, run

RATE_HZ = 200.0
ONE_DEGREE = np.radians(1.0)


@pytest.fixture(scope="module")
def trace() -> SensorTrace:
    """A set of squats with the bar rolling by 30 degrees, on a sensor without errors."""
    plan = PlannedSet("back squat", (0.7, 0.6, 0.5), 0.6, roll_deg=30.0)
    return make_session_trace([plan], seed=11, sensor=ideal_sensor(RATE_HZ))


@pytest.fixture(scope="module")
def attitudes(trace: SensorTrace) -> tuple[np.ndarray, np.ndarray]:
    """Our attitude at the frame ends, matrices (f, 3, 3), and the samples these are."""
    assert trace.gyr_rad_s is not None
    time = np.arange(len(trace)) / trace.rate_hz
    ends = frame_ends(time, 0.04)
    frames = padded(time, trace.acc_m_s2, trace.gyr_rad_s, ends)
    _, angle = turned_within(frames, np.zeros((len(ends) - 1, 3)))
    return AttitudeChain().turn(angle)[1:], ends[1:]


def test_the_attitude_is_that_of_vqf_from_the_same_gyro(
    trace: SensorTrace, attitudes: tuple[np.ndarray, np.ndarray]
) -> None:
    ours, at = attitudes
    assert trace.gyr_rad_s is not None
    reference = vqf.VQF(1 / trace.rate_hz, motionBiasEstEnabled=False, restBiasEstEnabled=False)
    quaternions = np.empty((len(trace), 4))
    for i, rate in enumerate(trace.gyr_rad_s):
        reference.updateGyr(np.ascontiguousarray(rate))
        quaternions[i] = reference.getQuat3D()
    theirs = Rotation.from_quat(np.roll(quaternions[at], -1, axis=1))  # (w, x, y, z) to scipy's (x, y, z, w)
    mine = Rotation.from_matrix(ours)
    off = (theirs[0].inv() * theirs).inv() * (mine[0].inv() * mine)
    assert off.magnitude().max() < ONE_DEGREE


def test_vqf_and_zero_velocity_at_both_ends_agree_with_the_engine_on_a_clean_sensor(
    trace: SensorTrace,
) -> None:
    """Strapdown with the library's inclination, drift taken off over each rep: a second way to the same number."""
    reference = vqf.VQF(1 / trace.rate_hz)
    out = reference.updateBatch(np.ascontiguousarray(trace.gyr_rad_s), np.ascontiguousarray(trace.acc_m_s2))
    turned = Rotation.from_quat(np.roll(out["quat6D"], -1, axis=1)).apply(trace.acc_m_s2)
    upward = turned[:, 2] - 9.80665
    reps = reps_of(run(MotionEngine("bar", lift_named("back squat")), [as_block(trace)]))
    assert len(reps) == len(trace.truth) == 3
    for rep, true in zip(reps, trace.truth, strict=True):
        inside = slice(int(true.start_time_s * trace.rate_hz), int(true.end_time_s * trace.rate_hz))
        velocity = np.cumsum(upward[inside]) / trace.rate_hz
        velocity -= np.linspace(0.0, velocity[-1], len(velocity))
        assert float(velocity.mean()) == pytest.approx(true.mean_velocity_m_s, abs=0.03)
        assert rep.mean_velocity_m_s == pytest.approx(true.mean_velocity_m_s, abs=0.01)
