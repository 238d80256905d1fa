"""Samples by which nothing can be decided may wait for the next ones; what comes of them is the same."""

import numpy as np
import pytest

from drivers.samples import TimedBlock
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_set_trace
from station.motion.engine import MotionEngine
from station.motion.events import Clipped, Gap, Trouble
from station.motion.pending import HeldPackets
from station.squad.lifts import LIFTS
from tests.motion.streams import as_block, in_blocks, run

RATE_HZ = 200
PACKET = 10


def lying(seconds: float, *, without: slice = slice(0)) -> TimedBlock:
    """A bar in the rack, seen by a noisy sensor, without some of its samples."""
    rng = np.random.default_rng(1)
    seq = np.arange(round(seconds * RATE_HZ))
    acc = np.array([0.0, 0.0, 9.81]) + rng.normal(0, 0.02, (len(seq), 3))
    gyr = rng.normal(0, 0.001, (len(seq), 3))
    left = np.delete(seq, without)
    return TimedBlock(left / RATE_HZ, left, acc[left], gyr[left])


def engine_beside(block: TimedBlock) -> MotionEngine:
    engine = MotionEngine("bar", LIFTS["back squat"])
    for packet in in_blocks(block, PACKET):
        engine.feed(packet)
    return engine


def test_packets_of_a_lying_bar_come_several_at_once() -> None:
    block = lying(12.0)
    engine = engine_beside(block.slice(0, 1600))
    seen_s, behind_s = 8.0, []
    for packet in in_blocks(block.slice(1600, 2400), PACKET):
        engine.feed(packet)
        seen_s = max([seen_s, *engine.live()[0]])
        behind_s.append(packet.time_s[-1] - seen_s)
    assert np.mean(np.diff(behind_s) > 0) > 0.9
    assert max(behind_s) < 1.5


def test_a_bar_that_rises_is_taken_in_at_once() -> None:
    still = lying(9.0)
    lifted = still.acc_m_s2 + np.where(still.time_s > 8.0, 2.0, 0.0)[:, None]
    block = TimedBlock(still.time_s, still.seq, lifted, still.gyr_rad_s)
    engine = engine_beside(block.slice(0, 1600))
    engine.live()
    for packet in in_blocks(block.slice(1601, 1760), PACKET):
        engine.feed(packet)
        if packet.time_s[0] > 8.15:  # it has been seen to rise
            assert len(engine.live()[0]) > 0


@pytest.mark.parametrize("rate_hz", [50, 100])
def test_a_packet_of_ten_samples_of_a_slow_sensor_waits_for_no_other(rate_hz: int) -> None:
    held = HeldPackets()
    time = np.arange(100) / rate_hz
    block = TimedBlock(time, np.arange(100), np.full((100, 3), 9.81), np.zeros((100, 3)))
    assert all(len(held.take(packet)) == 1 for packet in in_blocks(block, PACKET))


@pytest.mark.parametrize("time_s", [np.inf, -np.inf, np.nan])
def test_a_packet_without_a_time_waits_for_no_other(time_s: float) -> None:
    held = HeldPackets()
    block = TimedBlock(np.array([time_s]), np.array([0]), np.zeros((1, 3)), np.zeros((1, 3)))
    assert len(held.take(block)) == 1


def test_packets_come_in_twos_where_no_rep_can_be_at_its_end_and_singly_where_one_can() -> None:
    trace = make_set_trace(PlannedSet("back squat", (0.6, 0.6), 0.6), seed=4)
    engine = MotionEngine("bar", LIFTS["back squat"])
    alone = []
    for packet in in_blocks(as_block(trace), PACKET):
        engine.feed(packet)
        alone.append((float(packet.time_s[-1]), len(engine.live()[0]) > 0))
    for rep in trace.truth:
        assert all(taken for end_s, taken in alone if rep.start_time_s + 0.2 < end_s < rep.end_time_s + 0.25)
    first, second = trace.truth
    coming_down = [taken for end_s, taken in alone if second.start_time_s - 0.9 < end_s < second.start_time_s]
    assert 0.4 < np.mean(coming_down) < 0.6
    assert first.end_time_s < second.start_time_s - 0.9


def test_the_trace_is_the_same_in_packets_and_as_a_whole() -> None:
    block = lying(10.0)
    parts, whole = engine_beside(block), MotionEngine("bar", LIFTS["back squat"])
    whole.feed(block)
    parts.finish()
    for one, other in zip(parts.live(), whole.live(), strict=True):
        np.testing.assert_array_equal(one, other)


@pytest.mark.parametrize(
    "then",
    [
        MotionEngine.finish,
        MotionEngine.new_set,
        MotionEngine.end_set,
        lambda engine: engine.advance(8.3),
    ],
    ids=["the stream ends", "a set begins", "a set is ended", "time passes"],
)
def test_what_waits_is_taken_in_first_when(then) -> None:
    waited = 0
    for stop in range(1700, 1760, PACKET):
        engine = engine_beside(lying(10.0).slice(0, stop))
        engine.live()
        then(engine)
        waited += len(engine.live()[0])
    assert waited > 0


def test_lost_packets_of_a_lying_bar_are_told_in_order() -> None:
    block = lying(12.0, without=slice(1800, 1830))
    events = run(MotionEngine("bar", LIFTS["back squat"]), in_blocks(block, PACKET))
    assert events == run(MotionEngine("bar", LIFTS["back squat"]), [block])
    assert [type(event) for event in events] == [Gap]


def _no_numbers(block: TimedBlock) -> None:
    block.acc_m_s2[1803] = np.nan


def _zeros(block: TimedBlock) -> None:
    block.acc_m_s2[1803] = 0.0


def _backwards(block: TimedBlock) -> None:
    block.time_s[1803:1805] = 2.0


def _knocked(block: TimedBlock) -> None:
    block.acc_m_s2[1803:1805, 2] += 30.0


@pytest.mark.parametrize("spoil", [_no_numbers, _zeros, _backwards, _knocked])
def test_what_befalls_a_lying_bar_is_told_the_same_in_packets(spoil) -> None:
    block = lying(12.0)
    spoil(block)
    whole, parts = (MotionEngine("bar", LIFTS["back squat"], range_m_s2=30.0) for _ in range(2))
    events = run(whole, [block])
    assert events == run(parts, in_blocks(block, PACKET))
    assert events


def test_a_gyro_that_stops_beside_a_lying_bar_is_told() -> None:
    block = lying(12.0)
    silent = TimedBlock(block.time_s, block.seq, block.acc_m_s2)
    packets = [*in_blocks(block.slice(0, 1803), PACKET), *in_blocks(silent.slice(1803, 2400), PACKET)]
    events = run(MotionEngine("bar", LIFTS["back squat"]), packets)
    assert [(type(event), event.time_s) for event in events] == [(Trouble, 1803 / RATE_HZ)]


def test_a_hole_is_told_once_the_samples_before_it_are_known_as_they_will_stay() -> None:
    block = lying(4.0, without=slice(700, 710))
    block.acc_m_s2[696:692:-1, 2] = 20.0  # at the limit as the hole begins
    block.acc_m_s2[700:702, 2] = 20.0  # and after it
    engine = MotionEngine("bar", LIFTS["back squat"], range_m_s2=2 * 9.80665)
    assert engine.feed(block.slice(0, 702)) == []
    assert [type(event) for event in engine.feed(block.slice(702, 780))] == [Gap, Clipped]
