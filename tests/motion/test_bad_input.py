"""Whatever comes in: no exception, no invented rep, and a trouble that says what is wrong."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from drivers.samples import FloatArray, IntArray, TimedBlock
from simulated_sensor.planned_set import PlannedSet
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


RESTING = _resting(15.0)


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


@pytest.mark.parametrize("left", [0.0, 1.0], ids=["zeros", "its last value"])
@pytest.mark.parametrize("size", [10, 3000])
def test_a_gyro_that_hangs_is_said_and_done_without(lifted: TimedBlock, left: float, size: int) -> None:
    gyr = lifted.gyr_rad_s
    assert gyr is not None
    hung = gyr.copy()
    hung[1600:] = left * gyr[1600]  # between the first rep and the second
    block = TimedBlock(lifted.time_s, lifted.seq, lifted.acc_m_s2, hung)
    events = run(MotionEngine("bar"), in_blocks(block, size))
    (trouble,) = [event for event in events if isinstance(event, Trouble)]
    assert trouble.kind == "bad_samples"
    assert "gyro" in trouble.advice
    reps, whole = reps_of(events), reps_of(run(MotionEngine("bar"), [lifted]))
    assert 2 <= len(reps) <= 3  # the one under way when it is noticed is given up
    for at in (0, -1):
        assert reps[at].mean_velocity_m_s == pytest.approx(whole[at].mean_velocity_m_s, abs=0.02)


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


@pytest.mark.parametrize("size", [10, 10**6])
@pytest.mark.parametrize("counted", [0, 117_000])
def test_a_hole_of_ten_minutes_is_silence_and_no_other_rate(
    lifted: TimedBlock, size: int, counted: int
) -> None:
    """As a recording tells it, where nobody was there to say that time passes; whether or not the counter went on."""
    time, seq = lifted.time_s.copy(), lifted.seq.copy()
    time[2600:] += 600.0
    seq[2600:] += counted
    events = run(MotionEngine("bar"), in_blocks(replace(lifted, time_s=time, seq=seq), size))
    (trouble,) = [event for event in events if isinstance(event, Trouble)]
    assert trouble.kind == "silence"
    assert trouble.time_s == pytest.approx(lifted.time_s[2599] + 2.0)
    assert len(reps_of(events)) <= 3


@pytest.mark.parametrize("share", [0.1, 1.0])
def test_packets_out_of_order_are_said_and_give_no_rep_twice(lifted: TimedBlock, share: float) -> None:
    packets = np.arange(len(lifted) - len(lifted) % 20).reshape(-1, 2, 10)
    swapped = np.random.default_rng(3).random(len(packets)) < share
    packets[swapped] = packets[swapped][:, ::-1]
    events = run(MotionEngine("bar"), in_blocks(_at(lifted, packets.ravel()), 10))
    assert "bad_samples" in _kinds(events)
    assert len(reps_of(events)) <= 3


def test_packets_that_all_come_twice_are_said_and_cost_nothing(lifted: TimedBlock) -> None:
    packets = np.arange(len(lifted) - len(lifted) % 10).reshape(-1, 10)
    events = run(MotionEngine("bar"), in_blocks(_at(lifted, np.repeat(packets, 2, axis=0).ravel()), 10))
    assert "bad_samples" in _kinds(events)
    assert reps_of(events) == reps_of(run(MotionEngine("bar"), [_at(lifted, packets.ravel())]))


def _at(block: TimedBlock, index: IntArray) -> TimedBlock:
    gyr = block.gyr_rad_s
    return TimedBlock(
        block.time_s[index], block.seq[index], block.acc_m_s2[index], None if gyr is None else gyr[index]
    )


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


SPOILT = {
    "nan": lambda acc: np.full_like(acc, np.nan),
    "infinite": lambda acc: np.full_like(acc, -np.inf),
    "zeros": np.zeros_like,
    "saturated": lambda acc: np.full_like(acc, RANGE_M_S2),
    "hung": lambda acc: np.tile(acc[:1], (len(acc), 1)),
    "one axis hung": lambda acc: np.column_stack([np.full(len(acc), acc[0, 0]), acc[:, 1:]]),
}
TIMES = {
    "backwards": lambda time: time - 1.0,
    "faster": lambda time: time[0] + (time - time[0]) / 1.5,
    "standing still": lambda time: np.full_like(time, time[0]),
    "ten minutes later": lambda time: time + 600.0,
}
_spoilings = st.lists(
    st.tuples(
        st.sampled_from([*SPOILT, *TIMES, "no gyro", "twice", "reordered", "lost"]),
        st.floats(0.05, 0.95),
        st.floats(0.01, 0.3),
    ),
    min_size=1,
    max_size=4,
)


def _spoilt(block: TimedBlock, what: str, first: int, stop: int) -> TimedBlock:
    """The same block with something wrong from one sample to another."""
    acc, time, index = block.acc_m_s2.copy(), block.time_s.copy(), np.arange(len(block))
    if what in SPOILT:
        acc[first:stop] = SPOILT[what](acc[first:stop])
    elif what in TIMES:
        time[first:stop] = TIMES[what](time[first:stop])
    elif what == "twice":
        index = np.concatenate([index[:stop], index[first:]])
    elif what == "reordered":
        index[first:stop] = index[first:stop][::-1]
    elif what == "lost":
        index = np.concatenate([index[:first], index[stop:]])
    return _at(TimedBlock(time, block.seq, acc, block.gyr_rad_s), index)


def _all_spoilt(block: TimedBlock, spoilings: list[tuple[str, float, float]]) -> tuple[TimedBlock, int]:
    """The stream with every fault in it, and the sample from which its gyro is missing."""
    blind_from = len(block)
    for what, start, length in spoilings:
        first = int(start * len(block))
        stop = min(first + max(2, int(length * len(block))), len(block))
        blind_from = min(blind_from, first) if what == "no gyro" else blind_from
        block = _spoilt(block, what, first, stop)
    return block, blind_from


def _fed(block: TimedBlock, blind_from: int, size: int) -> list[MotionEvent]:
    """The events of a stream whose gyro is missing from a sample on, with time passing in between."""
    engine, events = MotionEngine("bar", range_m_s2=RANGE_M_S2), []
    for at, part in zip(range(0, len(block), size), in_blocks(block, size), strict=True):
        blind = TimedBlock(part.time_s, part.seq, part.acc_m_s2, None)
        events += engine.feed(blind if at >= blind_from else part)
        events += engine.advance(float(part.time_s[-1]) + 0.1)
    return events + engine.finish()


@settings(max_examples=40, deadline=None)
@example(spoilings=[("saturated", 0.125, 0.125)], size=1)  # clipping that ends a rounding's width after 0.1 s
@example(spoilings=[("nan", 0.125, 0.25), ("saturated", 0.25, 0.25)], size=1)  # a rise out of saturation
@given(spoilings=_spoilings, size=st.sampled_from([1, 10, 97, 4000]))
def test_a_resting_bar_gives_no_rep_whatever_mixture_of_faults_it_has(
    spoilings: list[tuple[str, float, float]], size: int
) -> None:
    events = _fed(*_all_spoilt(RESTING, spoilings), size)
    assert [event for event in events if isinstance(event, RepMeasured | FailedRep)] == []


@settings(max_examples=12, deadline=None)
@given(spoilings=_spoilings, size=st.sampled_from([10, 97]))
def test_a_lifted_bar_gives_no_rep_too_many_whatever_mixture_of_faults_it_has(
    lifted: TimedBlock, spoilings: list[tuple[str, float, float]], size: int
) -> None:
    assert len(reps_of(_fed(*_all_spoilt(lifted, spoilings), size))) <= 3


@pytest.mark.parametrize(
    ("first", "then"),
    [
        ((-5921.0, [1.0, 0.0, 0.0]), ([0.0, 1.0], [1.0, 1.0, 1.0])),
        ((-5.8e6, [1e-180] * 3), ([1e8, 1e8, -1.1235e4, 0.5, 1.0], [1e-180] * 3)),
    ],
    ids=["forwards", "to and fro"],
)
def test_hours_after_the_very_first_sample_are_a_hole_and_no_slow_rate(
    first: tuple[float, list[float]], then: tuple[list[float], list[float]]
) -> None:
    engine = MotionEngine("bar", range_m_s2=RANGE_M_S2)
    events = []
    for times, force in (([first[0]], first[1]), then):
        n = len(times)
        events += engine.feed(TimedBlock(np.array(times), np.arange(n), np.array([force] * n), None))
        events += engine.advance(0.0)
    events += engine.finish()
    assert [event for event in events if isinstance(event, RepMeasured | FailedRep)] == []


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
