"""A sensor that is knocked, slips round the bar, or falls off in the middle of a set: said, and no rep invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from simulated_sensor.imu_errors import bench_calibrated_sensor
from simulated_sensor.kinematics import BarMotion, MotionBuilder
from simulated_sensor.lifts import perform, rest_on_rack
from simulated_sensor.mishaps import fell_off, knocked, slipped
from simulated_sensor.planned_set import typical_set
from simulated_sensor.sessions import trace_of
from simulated_sensor.trace import TrueRep
from simulated_sensor.velocity_shapes import FINE_RATE_HZ
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.motion.events import RepMeasured, Trouble
from station.squad.lifts import lift_named
from tests.motion.streams import as_block, in_blocks, reps_of, run

LIFTS = pytest.mark.parametrize("lift", ["back squat", "bench press", "deadlift", "overhead press"])
GYRO = pytest.mark.parametrize("gyro", [True, False], ids=["six axes", "accelerometer only"])
SPEEDS = (0.8, 0.6, 0.5)
Mishap = Callable[[BarMotion, float, np.random.Generator], BarMotion]


def measured(
    lift: str, mishap: Mishap, share: float, *, gyro: bool
) -> tuple[list[TrueRep], list[RepMeasured], list[str]]:
    """True reps, reps found and troubles said of a set with a mishap after this share of its second rep."""
    rng = np.random.default_rng(5)
    plan = typical_set(lift, SPEEDS, rng)
    builder = MotionBuilder(rng)
    rest_on_rack(builder, 3.0)
    perform(builder, plan)
    rest_on_rack(builder, 3.0)
    motion = builder.build()
    first, last, _ = motion.movements[1]
    spoilt = mishap(motion, (first + share * (last - first)) / FINE_RATE_HZ, rng)
    trace = trace_of(spoilt, rng, sensor=replace(bench_calibrated_sensor(rng), has_gyro=gyro))
    engine = MotionEngine("bar", lift_named(lift), Calibration(), plan.range_of_motion_m, 157.0)
    events = run(engine, in_blocks(as_block(trace), 10))
    return list(trace.truth), reps_of(events), [e.kind for e in events if isinstance(e, Trouble)]


def belongs(rep: RepMeasured, truth: list[TrueRep]) -> bool:
    """Whether a rep found lies on a true one."""
    return any(min(rep.end_time_s, t.end_time_s) - max(rep.start_time_s, t.start_time_s) > 0.1 for t in truth)


@LIFTS
@GYRO
def test_a_knock_in_the_middle_of_a_rep_costs_no_rep_and_is_none(lift: str, gyro: bool) -> None:
    truth, reps, _ = measured(lift, knocked, 0.5, gyro=gyro)
    assert len(reps) == len(truth) == len(SPEEDS)
    for rep, true in zip(reps, truth, strict=True):
        off = abs(rep.mean_velocity_m_s - true.mean_velocity_m_s)
        assert off < max(0.03, rep.uncertainty_m_s)


@LIFTS
@GYRO
@pytest.mark.parametrize("share", [-0.2, 0.5])
def test_a_sensor_that_slips_round_the_bar_is_said_and_no_rep_is_invented(
    lift: str, share: float, gyro: bool
) -> None:
    truth, reps, troubles = measured(lift, slipped, share, gyro=gyro)
    assert troubles == ["sensor_slipped"]
    assert [rep for rep in reps if not belongs(rep, truth)] == []
    assert 1 <= len(reps) <= len(truth)


@LIFTS
@GYRO
def test_a_sensor_that_falls_off_is_said_and_the_floor_lifts_nothing(lift: str, gyro: bool) -> None:
    truth, reps, troubles = measured(lift, fell_off, 0.25, gyro=gyro)
    assert "sensor_fell" in troubles
    assert len(truth) == 1
    assert [rep for rep in reps if not belongs(rep, truth)] == []
    assert len(reps) == 1


@LIFTS
@GYRO
def test_a_set_without_a_mishap_has_none_said(lift: str, gyro: bool) -> None:
    _, reps, troubles = measured(lift, lambda motion, _at, _rng: motion, 0.5, gyro=gyro)
    assert troubles == []
    assert len(reps) == len(SPEEDS)
