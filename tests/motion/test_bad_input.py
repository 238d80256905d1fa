"""Whatever comes in: no exception, no invented rep, and a trouble that says what is wrong."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from drivers.samples import FloatArray, TimedBlock
from simulated_sensor.lifts import PlannedSet
from simulated_sensor.sessions import make_set_trace
from station.motion.engine import MotionEngine
from station.motion.events import FailedRep, JumpMeasured, MotionEvent, RepMeasured, SetEnd, Trouble
from tests.motion.streams import as_block, in_blocks, reps_of, run

RATE_HZ = 200.0
RANGE_M_S2 = 16 * 9.80665
RANDOM = np.random.default_rng(0)


def _resting(seconds: float = 20.0) -> TimedBlock:
    n = int(seconds * RATE_HZ)
    acc = np.array([0.3, -9.7, 1.2]) + RANDOM.normal(0, 0.02, (n, 3))
    return TimedBlock(np.arange(n) / RATE_HZ, np.arange(n), acc, RANDOM.normal(0, 0.001, (n, 3)))


def _with(block: TimedBlock, acc: FloatArray) -> TimedBlock:
    return TimedBlock(block.time_s, block.seq, acc, block.gyr_rad_s)


def _nan(block: TimedBlock) -> TimedBlock:
    acc = block.acc_m_s2.copy()
    acc[500:900:7] = np.nan
    return _with(block, acc)


def _infinite(block: TimedBlock) -> TimedBlock:
    acc = block.acc_m_s2.copy()
    acc[500:520, 1] = np.inf
    return _with(block, acc)


def _zero(block: TimedBlock) -> TimedBlock:
    return _with(block, np.zeros_like(block.acc_m_s2))


def _saturated(block: TimedBlock) -> TimedBlock:
    return _with(block, np.full_like(block.acc_m_s2, RANGE_M_S2))


def _backwards(block: TimedBlock) -> TimedBlock:
    time = block.time_s.copy()
    time[1000:1200] -= 3.0
    return TimedBlock(time, block.seq, block.acc_m_s2, block.gyr_rad_s)


def _duplicated(block: TimedBlock) -> TimedBlock:
    index = np.sort(np.concatenate([np.arange(len(block)), np.arange(500, 700)]))
    gyr = block.gyr_rad_s
    assert gyr is not None
    return TimedBlock(block.time_s[index], block.seq[index], block.acc_m_s2[index], gyr[index])


@pytest.mark.parametrize("spoil", [_nan, _infinite, _zero, _saturated, _backwards, _duplicated])
def test_bad_samples_are_said_and_never_become_reps(spoil: Callable[[TimedBlock], TimedBlock]) -> None:
    events = run(MotionEngine("bar", range_m_s2=RANGE_M_S2), in_blocks(spoil(_resting()), 100))
    assert "bad_samples" in [event.kind for event in events if isinstance(event, Trouble)]
    assert [event for event in events if isinstance(event, RepMeasured | FailedRep)] == []


@pytest.fixture(scope="module")
def lifted() -> TimedBlock:
    return as_block(make_set_trace(PlannedSet("bench press", (0.6, 0.5, 0.4), 0.4), seed=6))


def _kinds(events: list[MotionEvent]) -> list[str]:
    return [event.kind for event in events if isinstance(event, Trouble)]


def test_a_stuck_axis_is_said(lifted: TimedBlock) -> None:
    acc = lifted.acc_m_s2.copy()
    acc[800:, 0] = acc[800, 0]
    assert "bad_samples" in _kinds(run(MotionEngine("bar"), [_with(lifted, acc)]))


def test_a_gyro_that_stops_half_way_is_said_and_reps_go_on(lifted: TimedBlock) -> None:
    half = 1900
    later = lifted.slice(half, len(lifted))
    blocks = [lifted.slice(0, half), TimedBlock(later.time_s, later.seq, later.acc_m_s2, None)]
    events = run(MotionEngine("bar"), blocks)
    assert "bad_samples" in _kinds(events)
    assert len(reps_of(events)) == 3


def test_a_rate_that_jumps_is_said(lifted: TimedBlock) -> None:
    time = lifted.time_s.copy()
    time[2000:] = time[2000] + 1.5 * (time[2000:] - time[2000])
    assert "rate_jump" in _kinds(run(MotionEngine("bar"), [TimedBlock(time, lifted.seq, lifted.acc_m_s2)]))


def test_ten_minutes_of_silence_are_said_once_and_end_the_set(lifted: TimedBlock) -> None:
    engine = MotionEngine("bar")
    stop = int(np.searchsorted(lifted.time_s, 14.0))
    events = engine.feed(lifted.slice(0, stop))
    for now in np.arange(14.0, 614.0, 0.5):
        events += engine.advance(float(now))
    assert _kinds(events) == ["silence"]
    assert [event.reason for event in events if isinstance(event, SetEnd)] == ["no rep for 30 s"]
    later = TimedBlock(lifted.time_s + 620.0, lifted.seq + 10**6, lifted.acc_m_s2, lifted.gyr_rad_s)
    assert len(reps_of(engine.feed(later))) == 3


def test_samples_lost_in_the_middle_of_a_rep_are_not_guessed(lifted: TimedBlock) -> None:
    whole = reps_of(run(MotionEngine("bar"), [lifted]))
    rep = whole[1]
    middle = 0.5 * (rep.start_time_s + rep.end_time_s)
    keep = np.abs(lifted.time_s - middle) > 0.25 * rep.duration_s
    gyr = lifted.gyr_rad_s
    assert gyr is not None
    holed = TimedBlock(lifted.time_s[keep], lifted.seq[keep], lifted.acc_m_s2[keep], gyr[keep])
    events = run(MotionEngine("bar"), [holed])
    assert len(reps_of(events)) == 2
    assert "NotMeasured" in [type(event).__name__ for event in events]


_numbers = st.floats(allow_nan=True, allow_infinity=True, width=64)


@settings(max_examples=40, deadline=None)
@given(data=st.data(), placement=st.sampled_from(["bar", "belt"]))
def test_arbitrary_numbers_never_raise(data: st.DataObject, placement: str) -> None:
    engine = MotionEngine(placement, range_m_s2=RANGE_M_S2)  # type: ignore[arg-type]
    for _ in range(data.draw(st.integers(1, 4))):
        n = data.draw(st.integers(0, 60))
        time = data.draw(arrays(np.float64, n, elements=_numbers))
        acc = data.draw(arrays(np.float64, (n, 3), elements=_numbers))
        gyr = data.draw(st.none() | arrays(np.float64, (n, 3), elements=_numbers))
        events = engine.feed(TimedBlock(time, np.arange(n), acc, gyr))
        events += engine.advance(data.draw(_numbers))
        assert [e for e in events if isinstance(e, RepMeasured | JumpMeasured)] == []
    engine.finish()


@settings(max_examples=15, deadline=None)
@example(seed=2149, scale=1000.0)  # closes a curve of one sample right after a knock
@given(seed=st.integers(0, 10**6), scale=st.sampled_from([0.1, 5.0, 50.0, 1000.0]))
def test_noise_of_any_size_never_raises(seed: int, scale: float) -> None:
    rng = np.random.default_rng(seed)
    n = 3000
    time = np.cumsum(rng.exponential(0.005, n))
    block = TimedBlock(time, np.arange(n), rng.normal(0, scale, (n, 3)), rng.normal(0, scale, (n, 3)))
    run(MotionEngine("bar", range_m_s2=RANGE_M_S2), in_blocks(block, 333))
    run(MotionEngine("belt", range_m_s2=RANGE_M_S2), in_blocks(block, 333))
