import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drivers.samples import TimedBlock
from simulated_sensor.imu_errors import bench_calibrated_sensor
from simulated_sensor.planned_set import PlannedSet, typical_set
from simulated_sensor.sessions import make_session_trace, make_set_trace
from simulated_sensor.trace import SensorTrace
from station.motion.engine import MotionEngine
from station.motion.events import Clipped, FailedRep, SetEnd
from station.squad.lifts import LIFTS
from tests.motion.streams import as_block, in_blocks, reps_of, run


def _speeds(lift: str) -> tuple[float, ...]:
    return (1.35, 1.2) if lift == "power clean" else (0.8, 0.55, 0.3)


def _plan(lift: str, **changes: object) -> PlannedSet:
    return typical_set(lift, _speeds(lift), np.random.default_rng(5), **changes)


@pytest.mark.parametrize("lift", sorted(LIFTS))
def test_every_lift_gives_its_reps_and_nothing_else(lift: str) -> None:
    plan = _plan(lift)
    trace = make_set_trace(plan, seed=11)
    engine = MotionEngine("bar", LIFTS[lift], usual_range_m=plan.range_of_motion_m)
    events = run(engine, [as_block(trace)])
    reps = reps_of(events)
    assert [rep.number for rep in reps] == list(range(1, len(trace.truth) + 1))
    for rep, true in zip(reps, trace.truth, strict=True):
        assert rep.mean_velocity_m_s == pytest.approx(true.mean_velocity_m_s, abs=0.04)
        assert rep.displacement_m == pytest.approx(true.displacement_m, abs=0.05)
        assert 0.0 < rep.decided_time_s - true.end_time_s < 0.5
    assert [type(event) for event in events if event not in reps] == [SetEnd]


@pytest.mark.parametrize("lift", ["back squat", "bench press", "deadlift"])
def test_a_rep_left_on_the_safety_arms_is_failed_and_not_counted(lift: str) -> None:
    plan = _plan(lift, fail_last=True)
    trace = make_set_trace(plan, seed=3)
    events = run(MotionEngine("bar", LIFTS[lift], usual_range_m=plan.range_of_motion_m), [as_block(trace)])
    assert len(reps_of(events)) == len(plan.mean_velocities_m_s)
    assert len([event for event in events if isinstance(event, FailedRep)]) == 1


def test_two_sets_are_numbered_apart() -> None:
    plan = _plan("bench press")
    trace = make_session_trace([plan, plan], seed=4, rest_between_s=15)
    events = run(MotionEngine("bar", LIFTS["bench press"]), [as_block(trace)])
    assert [rep.number for rep in reps_of(events)] == [1, 2, 3, 1, 2, 3]
    assert [event.reps for event in events if isinstance(event, SetEnd)] == [3, 3]


@pytest.fixture(scope="module")
def short_trace() -> SensorTrace:
    return make_set_trace(PlannedSet("deadlift", (0.7, 0.5), 0.5), seed=8)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(size=st.integers(1, 3000))
def test_block_size_changes_nothing_to_the_bit(short_trace: SensorTrace, size: int) -> None:
    whole = run(MotionEngine("bar", LIFTS["deadlift"]), [as_block(short_trace)])
    parts = run(MotionEngine("bar", LIFTS["deadlift"]), in_blocks(as_block(short_trace), size))
    assert len(reps_of(whole)) == 2
    assert parts == whole


@settings(max_examples=8, deadline=None)
@given(size=st.integers(1, 60), lost_after=st.integers(0, 3))
def test_nor_where_the_range_is_exceeded_and_samples_are_lost_meanwhile(size: int, lost_after: int) -> None:
    sensor = bench_calibrated_sensor(np.random.default_rng(2), range_g=2.0)
    trace = make_set_trace(PlannedSet("power clean", (1.3,), 1.1), seed=8, sensor=sensor)
    limit_m_s2 = 2 * 9.80665
    first = int(np.argmax(np.abs(trace.acc_m_s2).max(axis=1) > 0.995 * limit_m_s2)) + 1 + lost_after
    block = as_block(trace)
    left = np.delete(block.seq, slice(first, first + 8))
    block = TimedBlock(block.time_s[left], left, block.acc_m_s2[left], block.gyr_rad_s[left])
    whole, parts = (
        run(MotionEngine("bar", LIFTS["power clean"], range_m_s2=limit_m_s2), blocks)
        for blocks in ([block], in_blocks(block, size))
    )
    assert any(isinstance(event, Clipped) for event in whole)
    assert parts == whole


def test_the_live_curve_is_handed_out_once(short_trace: SensorTrace) -> None:
    engine = MotionEngine("bar")
    engine.feed(as_block(short_trace))
    time_s, velocity_m_s = engine.live()
    assert len(time_s) == len(velocity_m_s) > 100
    assert (np.diff(time_s) > 0).all()
    assert velocity_m_s.max() > 0.5
    assert len(engine.live()[0]) == 0
