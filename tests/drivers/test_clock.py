"""Sample times come back right from a counter and from arrival times that jitter, stall and jump."""

from __future__ import annotations

import struct
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from drivers.clock import ClockError, SampleClock
from drivers.decode import Decoder
from drivers.profile import shipped_profiles
from drivers.samples import FloatArray, SampleBlock, TimedBlock

OWN = shipped_profiles()[0]


def stream(
    rate_hz: float,
    seconds: float,
    *,
    seed: int = 0,
    jitter_s: float = 0.015,
    shape: float = 2.0,
    per_packet: int = 10,
    stall: tuple[float, float] | None = None,
) -> SampleBlock:
    """Packets with gamma-distributed delay, 2 % of them 30 to 150 ms later still; never overtaking each other."""
    rng = np.random.default_rng(seed)
    packets = int(seconds * rate_hz) // per_packet
    ready_s = (np.arange(packets) + 1) * per_packet / rate_hz
    arrival_s = ready_s + rng.gamma(shape, jitter_s / shape, packets)
    late = rng.random(packets) < 0.02
    arrival_s[late] += rng.uniform(0.03, 0.15, late.sum())
    if stall:
        start_s, length_s = stall
        held = (ready_s > start_s) & (ready_s < start_s + length_s)
        arrival_s[held] = np.maximum(arrival_s[held], start_s + length_s)
    arrival_s = 500.0 + np.maximum.accumulate(arrival_s)
    n = packets * per_packet
    return SampleBlock(np.arange(n), np.repeat(arrival_s, per_packet), rng.normal(size=(n, 3)))


def times(clock: SampleClock, *blocks: SampleBlock) -> FloatArray:
    timed = [clock.time(block) for block in blocks]
    return np.concatenate([*(part.time_s for part in timed), clock.finish().time_s])


@given(
    rate_hz=st.floats(50.0, 420.0),
    jitter_s=st.floats(0.010, 0.020),
    shape=st.sampled_from([1.0, 2.0, 4.0]),
    seed=st.integers(0, 10_000),
)
@settings(max_examples=40, deadline=None)
def test_the_rate_is_within_a_thousandth_after_ten_seconds_and_a_five_thousandth_after_sixty(
    rate_hz: float, jitter_s: float, shape: float, seed: int
) -> None:
    block = stream(
        rate_hz, 62.0, seed=seed, jitter_s=jitter_s, shape=shape, per_packet=max(1, round(rate_hz / 20))
    )
    clock = SampleClock()
    ten = int(np.searchsorted(block.host_time_s, block.host_time_s[0] + 10.5))
    clock.time(block.slice(0, ten))
    assert clock.sure
    assert clock.rate_hz == pytest.approx(rate_hz, rel=1e-3)
    clock.time(block.slice(ten, len(block)))
    assert clock.rate_hz == pytest.approx(rate_hz, rel=2e-4)


@given(
    rate_hz=st.floats(184.0, 216.0),  # several percent about the nominal 200 Hz
    jitter_s=st.floats(0.010, 0.020),
    shape=st.sampled_from([1.0, 2.0, 4.0]),
    seed=st.integers(0, 10_000),
    first_count=st.sampled_from([0, 2**32 - 1000, 2**32 - 10]) | st.integers(0, 2**32 - 1),
    what=st.sampled_from(["stall", "loss", "reset", "reset while connected", "sleep"]),
    at_s=st.floats(3.0, 20.0),
    length_s=st.floats(0.3, 10.0),
)
@settings(max_examples=12, deadline=None)
def test_stalls_losses_wraps_resets_and_a_sleeping_host_leave_the_rate_alone(
    rate_hz: float,
    jitter_s: float,
    shape: float,
    seed: int,
    first_count: int,
    what: str,
    at_s: float,
    length_s: float,
) -> None:
    """From the bytes of the own sensor, through decoder and clock; sixty seconds after it the rate is right."""
    per_packet = max(1, round(rate_hz / 20))
    seconds = at_s + length_s + 62.0
    sent = stream(rate_hz, seconds, seed=seed, per_packet=per_packet, jitter_s=jitter_s, shape=shape)
    decoder, clock, uuid = Decoder(OWN), SampleClock(OWN.rate_hz), OWN.streams[0].characteristic
    start_s, end_s = 500.0 + at_s, 500.0 + at_s + length_s
    body = struct.pack("<6h", 0, 0, 2048, 0, 0, 0) * per_packet
    restarted = 0
    last_s = -np.inf
    for first in range(0, len(sent), per_packet):
        arrival_s = float(sent.host_time_s[first])
        during = start_s < arrival_s < end_s
        if during and what in ("loss", "reset", "sleep"):
            continue
        if arrival_s >= (start_s if "connected" in what else end_s) and "reset" in what and not restarted:
            restarted = first
            if what == "reset":
                decoder.relink()
        if what == "stall" and during:
            arrival_s = end_s  # all of them at once
        if what == "sleep" and arrival_s >= end_s:
            arrival_s -= length_s  # the clock of the host stood still
        arrival_s = last_s = max(arrival_s, last_s)
        count = first - restarted if restarted else first_count + first
        block = decoder.decode(uuid, struct.pack("<I", count % 2**32) + body, arrival_s)
        if block is not None:
            timed = clock.time(block)
            assert np.all(np.diff(timed.time_s) > 0.0)
    assert clock.rate_hz == pytest.approx(rate_hz, rel=2e-4)
    assert decoder.statistics.samples > 60 * rate_hz
    # From shortly before its wrap a counter that begins anew looks like one that wrapped; one that jumped by seconds
    # while the host's clock stood still looks like one that begins anew.
    if what != "sleep":
        assert decoder.statistics.restarts == ("reset" in what) or first_count > 2**31


@given(
    seed=st.integers(0, 10_000),
    at_s=st.floats(2.0, 40.0),
    length_s=st.floats(0.3, 8.0),
    wrong_s=st.floats(-0.15, 0.15),
)
@example(seed=655, at_s=9.0, length_s=0.3125, wrong_s=-0.125)  # by the counter alone it is a short one
@settings(max_examples=12, deadline=None)
def test_a_hole_whose_length_is_known_by_one_arrival_alone_does_not_bend_the_rate(
    seed: int, at_s: float, length_s: float, wrong_s: float
) -> None:
    """As a recording holds it: the counter goes on over the hole, but by a few samples too many or too few."""
    block = stream(203.0, 62.0 + length_s, seed=seed)
    kept = (block.seq < at_s * 203.0) | (block.seq > (at_s + length_s) * 203.0)
    shift = np.where(block.seq > at_s * 203.0, round(wrong_s * 203.0), 0)
    clock = SampleClock(200.0)
    time_s = times(
        clock, SampleBlock((block.seq + shift)[kept], block.host_time_s[kept], block.acc_m_s2[kept])
    )
    assert clock.rate_hz == pytest.approx(203.0, rel=2e-4)
    assert np.all(np.diff(time_s) > 0.0)


@pytest.mark.parametrize("stall", [(0.02, 1.0), (4.0, 3.0), (30.0, 5.0)])
def test_a_stall_moves_neither_the_rate_nor_the_times(stall: tuple[float, float]) -> None:
    block = stream(203.3, 62.0, stall=stall)
    clock = SampleClock(200.0)
    time_s = times(clock, block)
    assert clock.rate_hz == pytest.approx(203.3, rel=2e-4)
    late_s = time_s - block.seq / 203.3
    assert np.abs(late_s[-2000:]).max() < 0.005


def test_times_follow_the_true_ones_and_their_spacing_is_smooth() -> None:
    block = stream(193.0, 75.0, seed=3)
    time_s = times(SampleClock(200.0), block)
    assert len(time_s) == len(block)
    assert np.abs(time_s - block.seq / 193.0)[20 * 193 :].max() < 0.010
    spacing = np.diff(time_s) * 193.0
    assert np.abs(spacing - 1.0).max() < 0.03
    assert np.abs(np.diff(spacing)).max() < 1e-3


def test_lost_samples_leave_a_hole_as_long_as_they_were() -> None:
    block = stream(200.0, 40.0)
    keep = np.r_[0:4000, 4400:8000]
    holed = SampleBlock(block.seq[keep], block.host_time_s[keep], block.acc_m_s2[keep])
    time_s = times(SampleClock(200.0), holed)
    assert time_s[4000] - time_s[3999] == pytest.approx(401 / 200.0, rel=1e-3)


@given(cuts=st.lists(st.integers(0, 4000), max_size=40), device=st.booleans())
@settings(max_examples=40, deadline=None)
def test_the_cut_into_blocks_changes_no_bit(cuts: list[int], device: bool) -> None:
    block = stream(201.7, 20.0, stall=(12.0, 1.5))
    if device:
        block = SampleBlock(
            block.seq, block.host_time_s, block.acc_m_s2, None, np.floor(block.seq * 4.958) / 1000
        )
    edges = [0, *sorted(cut for cut in cuts if cut < len(block)), len(block)]
    parts = [block.slice(a, b) for a, b in pairwise(edges)]
    assert np.array_equal(times(SampleClock(), block), times(SampleClock(), *parts))


def test_a_time_once_given_does_not_depend_on_what_comes_after() -> None:
    whole = stream(201.7, 20.0)
    other = SampleBlock(whole.seq, whole.host_time_s.copy(), whole.acc_m_s2)
    other.host_time_s[2000:] += 0.4
    first, second = times(SampleClock(), whole), times(SampleClock(), other)
    assert np.array_equal(first[:2000], second[:2000])


def test_a_counter_that_restarts_keeps_the_rate() -> None:
    before, after = stream(203.0, 30.0, seed=1), stream(203.0, 30.0, seed=2)
    # After the restart the decoder carries the counter on, only as exactly as it knows the time that passed.
    again = SampleBlock(after.seq + 7_070, after.host_time_s + 35.0, after.acc_m_s2)
    clock = SampleClock(200.0)
    time_s = times(clock, before, again)
    assert clock.rate_hz == pytest.approx(203.0, rel=2e-4)
    assert np.all(np.diff(time_s) > 0.0)
    assert np.abs(np.diff(time_s[-1000:]) * 203.0 - 1.0).max() < 5e-4


def test_a_host_that_slept_keeps_the_rate() -> None:
    block = stream(203.0, 60.0, seed=5)
    # Linux's monotonic clock stands still in sleep: the arrivals after it come 20 s too early for the counter.
    slept = np.where(block.seq > 30 * 203, block.host_time_s - 20.0, block.host_time_s)
    keep = (block.seq <= 30 * 203) | (block.seq > 51 * 203)
    clock = SampleClock(200.0)
    time_s = times(clock, SampleBlock(block.seq[keep], slept[keep], block.acc_m_s2[keep]))
    assert clock.rate_hz == pytest.approx(203.0, rel=2e-4)
    assert time_s[-1] == pytest.approx(block.seq[-1] / 203.0, abs=0.02)


def test_arrivals_that_shift_for_good_are_followed_without_a_jump() -> None:
    block = stream(203.0, 90.0, seed=7)
    shifted = np.where(block.seq > 40 * 203, block.host_time_s + 0.25, block.host_time_s)
    clock = SampleClock(200.0)
    time_s = times(clock, SampleBlock(block.seq, shifted, block.acc_m_s2))
    assert clock.rate_hz == pytest.approx(203.0, rel=2e-4)
    assert np.abs(np.diff(time_s[5000:]) * 203.0 - 1.0).max() < 3.5e-3


def test_the_sensor_s_own_stamps_are_better_than_arrivals() -> None:
    block = stream(207.0, 11.0)
    stamped = SampleBlock(
        block.seq, block.host_time_s, block.acc_m_s2, None, np.floor(block.seq / 207.0 * 1000) / 1000
    )
    clock = SampleClock(200.0)
    clock.time(stamped)
    assert clock.rate_hz == pytest.approx(207.0, rel=5e-5)


def test_a_short_recording_comes_out_at_its_end() -> None:
    block = stream(100.0, 0.8)
    clock = SampleClock()
    assert len(clock.time(block)) == 0
    assert len(clock.finish()) == len(block)
    assert len(clock.finish()) == 0


def test_one_packet_alone_has_no_rate_unless_the_profile_says_one() -> None:
    block = stream(100.0, 0.1)
    clock = SampleClock()
    clock.time(block)
    with pytest.raises(ClockError, match="arrival times"):
        clock.finish()
    known = SampleClock(100.0)
    known.time(block)
    assert np.diff(known.finish().time_s) == pytest.approx(0.01)


def test_a_counter_that_goes_back_is_refused() -> None:
    block = stream(100.0, 3.0)
    clock = SampleClock()
    clock.time(block)
    with pytest.raises(ValueError, match="increase"):
        clock.time(block)


def test_an_empty_block_is_passed_on() -> None:
    block = stream(100.0, 3.0)
    assert isinstance(SampleClock().time(block.slice(0, 0)), TimedBlock)
