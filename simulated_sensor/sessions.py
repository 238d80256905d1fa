"""From planned sets to one sensor trace with its truth: what demo, tests and validation play."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from simulated_sensor.imu_errors import SensorErrors, bench_calibrated_sensor, sense
from simulated_sensor.kinematics import BarMotion, MotionBuilder, Mounting, felt_by_sensor
from simulated_sensor.lifts import perform, rest_on_rack
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.trace import SensorTrace, TrueRep
from simulated_sensor.truth import felt_mean_velocity_m_s, true_rep


def make_session_trace(
    sets: Sequence[PlannedSet],
    *,
    seed: int,
    rest_between_s: float = 20.0,
    sensor: SensorErrors | None = None,
    off_axis_m: float = 0.03,
    whip: bool = False,
) -> SensorTrace:
    """All sets one after another on one bar, racked in between.

    Args:
        sets: what is performed, in order.
        seed: everything random follows from it.
        rest_between_s: the bar's rest between sets, s.
        sensor: its errors; by default a bench-calibrated one at 200 Hz nominal, drawn from the seed.
        off_axis_m: distance of the sensor from the bar's axis, m.
        whip: whether the bar bends and swings on (`bar_whip`).
    """
    rng = np.random.default_rng(seed)
    builder = MotionBuilder(rng)
    rest_on_rack(builder, 3.0)
    for index, plan in enumerate(sets):
        perform(builder, plan)
        rest_on_rack(builder, rest_between_s if index + 1 < len(sets) else 3.0)
    return trace_of(builder.build(whip=whip), rng, sensor=sensor, off_axis_m=off_axis_m)


def make_set_trace(plan: PlannedSet, *, seed: int, sensor: SensorErrors | None = None) -> SensorTrace:
    """One set from racked bar to racked bar."""
    return make_session_trace([plan], seed=seed, sensor=sensor)


def trace_of(
    motion: BarMotion,
    rng: np.random.Generator,
    *,
    sensor: SensorErrors | None = None,
    off_axis_m: float = 0.03,
) -> SensorTrace:
    """What a sensor mounted anyhow on the bar measures of this movement, with the truth of every rep."""
    errors = sensor or bench_calibrated_sensor(rng)
    mounting = Mounting.random(rng, off_axis_m)
    force, rate = felt_by_sensor(motion, mounting)
    acc, gyr = sense(force, rate, errors, rng)
    truth = truth_of(motion)
    felt = np.array([felt_mean_velocity_m_s(rep, motion, mounting, errors) for rep in truth])
    return SensorTrace(errors.rate_hz, acc, gyr, truth, felt_m_s=felt)


def truth_of(motion: BarMotion) -> tuple[TrueRep, ...]:
    """Every rep and failed rep of the movement, by the bounds rule."""
    velocity = motion.vertical_velocity_m_s
    found = (
        true_rep(velocity, first, last, failed=kind == "failed") for first, last, kind in motion.movements
    )
    return tuple(rep for rep in found if rep is not None)
