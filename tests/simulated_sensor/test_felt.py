"""What the sensor's own place and scale make of a rep: the least error that any treatment of its samples leaves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulated_sensor.imu_errors import ideal_sensor
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace

THRUSTS = PlannedSet("hip thrust", (0.5, 0.4), 0.3)


def off_true(trace: SensorTrace) -> np.ndarray:
    """What the sensor feels beyond the bar's true mean velocity, one a rep, m/s."""
    assert trace.felt_m_s is not None
    return trace.felt_m_s - np.array([rep.mean_velocity_m_s for rep in trace.truth])


def test_on_the_axis_and_with_the_right_scale_it_feels_the_bar() -> None:
    trace = make_session_trace([THRUSTS], seed=2, sensor=ideal_sensor(), off_axis_m=0.0)
    assert off_true(trace) == pytest.approx(0.0, abs=1e-9)


def test_a_wrong_scale_is_felt_in_proportion() -> None:
    sensor = replace(ideal_sensor(), acc_matrix=1.01 * np.eye(3))
    trace = make_session_trace([THRUSTS], seed=2, sensor=sensor, off_axis_m=0.0)
    assert off_true(trace) == pytest.approx([0.01 * rep.mean_velocity_m_s for rep in trace.truth], rel=1e-6)


def test_off_the_axis_a_bar_that_rolls_with_the_lift_carries_the_sensor_along() -> None:
    trace = make_session_trace([THRUSTS], seed=2, sensor=ideal_sensor(), off_axis_m=0.03)
    seconds = np.array([rep.end_time_s - rep.start_time_s for rep in trace.truth])
    carried_m = np.abs(off_true(trace) * seconds)
    # 15 degrees of roll, 3 cm off the axis: at most the chord, and the same in every rep of a set
    assert 0.0005 < carried_m.max() <= 2 * 0.03 * np.sin(np.radians(15.0) / 2) + 1e-4
    assert carried_m[1] == pytest.approx(carried_m[0], abs=0.0005)


@pytest.mark.parametrize(
    "plan",
    [PlannedSet("deadlift", (0.5, 0.4), 0.5), replace(THRUSTS, rolls_back=True)],
    ids=["in the hands", "on the hips"],
)
def test_a_bar_that_rolls_there_and_back_carries_it_nowhere(plan: PlannedSet) -> None:
    trace = make_session_trace([plan], seed=2, sensor=ideal_sensor(), off_axis_m=0.03)
    assert off_true(trace) == pytest.approx(0.0, abs=0.003)
