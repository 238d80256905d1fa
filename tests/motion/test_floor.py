"""A clean begins and ends on the floor: what that tells of the sensor, and what blocks under the bar make of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulated_sensor.imu_errors import SensorErrors, ideal_sensor
from simulated_sensor.kinematics import GRAVITY_M_S2, MotionBuilder
from simulated_sensor.lifts import rest_on_rack
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace, trace_of
from simulated_sensor.trace import SensorTrace
from simulated_sensor.velocity_shapes import minimum_jerk_velocity, push_velocity
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.squad.lifts import LIFTS
from tests.motion.streams import as_block, reps_of, run

CLEAN = LIFTS["power clean"]


def biased_sensor(rng: np.random.Generator) -> SensorErrors:
    """Perfect but for 15 mg on every axis."""
    return replace(ideal_sensor(), acc_bias_m_s2=rng.choice([-1, 1], 3) * 0.015 * GRAVITY_M_S2)


def errors_m_s(trace: SensorTrace) -> list[float]:
    """Station minus truth, mean velocity of each rep."""
    reps = reps_of(run(MotionEngine("bar", CLEAN, Calibration()), [as_block(trace)]))
    assert len(reps) == len(trace.truth)
    return [
        rep.mean_velocity_m_s - true.mean_velocity_m_s for rep, true in zip(reps, trace.truth, strict=True)
    ]


def test_a_sideways_bias_that_the_roll_brings_up_is_known_from_the_second_clean_on() -> None:
    first, later = [], []
    for seed in range(12):
        plan = PlannedSet("power clean", (1.3, 1.3, 1.3), 1.1, roll_deg=20.0)
        sensor = biased_sensor(np.random.default_rng(seed))
        errors = errors_m_s(make_session_trace([plan], seed=seed, sensor=sensor, off_axis_m=0.0))
        first.append(errors[0])
        later += errors[1:]
    assert np.sqrt(np.mean(np.square(later))) < 0.6 * np.sqrt(np.mean(np.square(first)))


@pytest.mark.parametrize("blocks_m", [0.1, 0.3])
def test_a_bar_put_down_on_blocks_makes_the_next_clean_no_faster(blocks_m: float) -> None:
    rng = np.random.default_rng(3)
    builder = MotionBuilder(rng)
    rest_on_rack(builder, 3.0)
    for lowered_m in (1.0 - blocks_m, 1.0, 1.0):
        builder.move(push_velocity(1.0, 1.3, 1.6, 1.0), kind="rep")
        builder.still(0.5, held=1.0)
        builder.move(minimum_jerk_velocity(-lowered_m, 1.5))
        builder.shock(30.0)
        builder.still(1.0, held=0.0, on_floor=True)
    trace = trace_of(builder.build(), rng, sensor=biased_sensor(rng))
    assert np.abs(errors_m_s(trace)).max() < 0.005
