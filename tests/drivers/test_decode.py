"""Packets become samples by their profile: bytes built by hand, wrapping counters, lost and broken packets."""

from __future__ import annotations

import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.decode import DecodeError, Decoder
from drivers.profile import SensorProfile, shipped_profiles
from drivers.profile_file import parse_profile
from drivers.samples import SampleBlock

G = 9.80665  # standard gravity, ISO 80000-3
KNOWN = {profile.name: profile for profile in shipped_profiles()}
OWN, MICROBIT, WATCH, THINGY = (
    KNOWN[name] for name in ("Bar sensor", "micro:bit", "Open watch", "Thingy:52")
)

HEAD = """
name = "test"
rate_hz = 100
[match]
name = "x"
[acceleration]
unit = "m/s2"
"""
SINGLE = (
    HEAD
    + """
[[stream]]
characteristic = "ff01"
header = ["counter uint8"]
counter_counts = "packets"
sample = ["acc_x int16", "acc_y int16", "acc_z int16"]
samples = 5
"""
)
FLOATS = (
    HEAD
    + """
[[stream]]
characteristic = "ff01"
header = ["time uint16"]
time_unit_s = 0.001
sample = ["acc_x float32", "acc_y float32", "acc_z float32"]
samples = 1
"""
)
PAIR = (
    HEAD
    + """
[rotation]
unit = "rad/s"
[[stream]]
characteristic = "ff01"
header = ["counter uint8"]
byte_order = "big"
sample = ["acc_x int16", "acc_y int16", "acc_z int16"]
[[stream]]
characteristic = "ff02"
header = ["counter uint8"]
byte_order = "big"
sample = ["gyr_x int16", "gyr_y int16", "gyr_z int16"]
"""
)
FF01 = "0000ff01-0000-1000-8000-00805f9b34fb"
FF02 = "0000ff02-0000-1000-8000-00805f9b34fb"


def own(counter: int, samples: int = 10) -> bytes:
    return struct.pack("<I", counter % 2**32) + struct.pack("<6h", 2048, 0, -1024, 16384, -16384, 0) * samples


def run(profile: SensorProfile, packets: list[tuple[float, bytes]]) -> tuple[Decoder, list[SampleBlock]]:
    decoder = Decoder(profile)
    uuid = profile.streams[0].characteristic
    blocks = [decoder.decode(uuid, payload, arrival_s) for arrival_s, payload in packets]
    return decoder, [block for block in blocks if block is not None]


def at_rate(counters: list[int]) -> list[tuple[float, bytes]]:
    return [(counter / 200.0, own(counter)) for counter in counters]


def seqs(blocks: list[SampleBlock]) -> list[int]:
    return np.concatenate([block.seq for block in blocks]).tolist()


def test_the_own_sensor_s_packet_comes_out_in_si_units() -> None:
    _, (block,) = run(OWN, [(3.5, own(7, 2))])
    assert block.seq.tolist() == [7, 8]
    assert block.host_time_s.tolist() == [3.5, 3.5]
    assert block.acc_m_s2[1] == pytest.approx([G, 0.0, -G / 2])
    assert block.gyr_rad_s is not None
    assert block.gyr_rad_s[1] == pytest.approx([np.radians(1000.0), -np.radians(1000.0), 0.0])


def test_the_published_bytes_of_a_board_at_rest() -> None:
    # Public developer forum, thread 47415: at rest flat, FA FF F4 FF F6 03 = -0.006, -0.012, 0.990 g.
    _, (block,) = run(THINGY, [(0.0, bytes.fromhex("FAFF F4FF F603 2000 E0FF 0000 1000 2000 3000"))])
    assert block.acc_m_s2[0] / G == pytest.approx([-6 / 1024, -12 / 1024, 1014 / 1024])
    assert block.acc_m_s2[0] / G == pytest.approx([-0.006, -0.012, 0.990], abs=5e-4)
    assert block.gyr_rad_s is not None
    assert block.gyr_rad_s[0] == pytest.approx([np.radians(1.0), np.radians(-1.0), 0.0])


def test_milli_g_and_binary_milli_g() -> None:
    # micro:bit Bluetooth profile V1.9: x, y, z as sint16, little-endian, in thousandths of g.
    _, (block,) = run(MICROBIT, [(0.0, struct.pack("<3h", -16, 32, -1000))])
    assert block.acc_m_s2[0] == pytest.approx([-0.016 * G, 0.032 * G, -G])
    assert block.gyr_rad_s is None
    # InfiniTime doc/MotionService.md: three sint16 in binary milli-g, 1 g = 1024.
    _, (block,) = run(WATCH, [(0.0, struct.pack("<3h", 0, 512, -1024))])
    assert block.acc_m_s2[0] == pytest.approx([0.0, G / 2, -G])


def test_settings_are_the_published_bytes() -> None:
    # Nordic-Thingy52-FW include/ble_services/ble_tms.h: pedometer, temperature and compass interval in ms, motion in
    # Hz, wake on motion: packed, little-endian.
    assert [one.data for one in THINGY.start] == [struct.pack("<4HB", 1000, 1000, 1000, 200, 0)]
    # micro:bit Bluetooth profile V1.9: the period in ms as uint16.
    assert [one.data for one in MICROBIT.start] == [struct.pack("<H", 10)]
    assert WATCH.start == OWN.start == ()


def test_lost_packets_are_counted_and_leave_a_hole() -> None:
    decoder, blocks = run(OWN, at_rate([0, 10, 40, 50]))
    assert seqs(blocks) == [*range(20), *range(40, 60)]
    assert decoder.statistics.lost_samples == 20
    assert decoder.statistics.samples == 40


def test_doubled_and_late_packets_are_counted_and_not_handed_on() -> None:
    decoder, blocks = run(OWN, at_rate([0, 10, 10, 30, 20, 40, 50]))
    assert seqs(blocks) == [*range(20), *range(30, 60)]
    statistics = decoder.statistics
    assert (statistics.duplicates, statistics.reordered, statistics.lost_samples) == (1, 1, 10)


def test_the_counter_wraps_without_a_seam() -> None:
    start = 2**32 - 25
    _, blocks = run(OWN, [(k * 0.05, own(start + 10 * k)) for k in range(6)])
    assert seqs(blocks) == list(range(start, start + 60))


def test_a_short_counter_s_wraps_during_a_loss_are_told_by_the_time() -> None:
    profile = parse_profile(SINGLE, "test")
    packet = {k: bytes([k % 256]) + struct.pack("<3h", 0, 0, 1000) * 5 for k in range(700)}
    kept = [k for k in range(700) if not 100 <= k < 400]
    decoder, blocks = run(profile, [(k * 0.05, packet[k]) for k in kept])
    assert seqs(blocks) == [seq for k in kept for seq in range(5 * k, 5 * k + 5)]
    assert decoder.statistics.lost_samples == 1500


def test_a_stall_that_drains_is_no_loss_even_with_a_short_counter() -> None:
    profile = parse_profile(SINGLE, "test")
    arrivals = [max(k * 0.05, 30.0) if 5.0 < k * 0.05 < 30.0 else k * 0.05 for k in range(1000)]
    decoder, _ = run(
        profile, [(at, bytes([k % 256]) + struct.pack("<3h", 0, 0, 1) * 5) for k, at in enumerate(arrivals)]
    )
    assert decoder.statistics.lost_samples == 0
    assert decoder.statistics.samples == 5000


@pytest.mark.parametrize("restart_at", [30, 300, 5000])
def test_a_counter_that_restarts_is_noticed_and_carried_on(restart_at: int) -> None:
    before = [(k / 200.0, own(k)) for k in range(0, restart_at, 10)]
    after = [(restart_at / 200.0 + 2.0 + k / 200.0, own(k)) for k in range(0, 2000, 10)]
    decoder, blocks = run(OWN, before + after)
    assert decoder.statistics.restarts == 1
    seq = seqs(blocks)
    assert np.all(np.diff(seq) > 0)
    assert seq[-1] == pytest.approx(restart_at + 2000 + 400, abs=10)


def test_one_corrupt_counter_is_not_taken_for_a_restart() -> None:
    packets = at_rate(list(range(0, 4000, 10)))
    packets[200] = (packets[200][0], own(3_000_000_000))
    decoder, blocks = run(OWN, packets)
    assert decoder.statistics.restarts == 0
    assert decoder.statistics.malformed == 1
    assert seqs(blocks) == [*range(2000), *range(2010, 4000)]


def test_after_a_new_connection_the_first_packet_decides() -> None:
    decoder, _ = run(OWN, at_rate(list(range(0, 1000, 10))))
    decoder.relink()
    uuid = OWN.streams[0].characteristic
    block = decoder.decode(uuid, own(0), 1000 / 200 + 3.0)
    assert block is not None
    assert block.seq[0] == pytest.approx(1600, abs=10)
    decoder.relink()
    block = decoder.decode(uuid, own(800), 1000 / 200 + 3.0 + 4.0)
    assert block is not None
    assert block.seq[0] == pytest.approx(2400, abs=10)


def test_the_sensor_s_time_stamp_wraps_and_numbers_the_samples() -> None:
    profile = parse_profile(FLOATS, "test")
    ticks = [*range(64_000, 66_000, 10), *range(66_050, 67_000, 10)]
    packets = [(0.02 + tick / 1000.0, struct.pack("<H3f", tick % 65_536, 0.0, 0.0, 9.8)) for tick in ticks]
    decoder, blocks = run(profile, packets)
    stamps = np.concatenate([block.device_time_s for block in blocks if block.device_time_s is not None])
    assert np.diff(stamps) * 1000 == pytest.approx(np.diff(ticks))
    assert np.diff(seqs(blocks)) == pytest.approx(np.diff(ticks) / 10)
    assert decoder.statistics.inferred
    assert decoder.statistics.lost_samples == 5


def test_a_silent_time_is_taken_for_loss_when_nothing_counts() -> None:
    payload = struct.pack("<3h", 0, 0, 1000)
    decoder, blocks = run(MICROBIT, [(k * 0.01 + (2.0 if k >= 100 else 0.0), payload) for k in range(200)])
    assert decoder.statistics.inferred
    assert decoder.statistics.lost_samples == 200
    assert seqs(blocks)[100] == 300


def test_two_characteristics_are_joined_by_their_counter() -> None:
    decoder = Decoder(parse_profile(PAIR, "test"))

    def packet(counter: int, value: int) -> bytes:
        return struct.pack(">B6h", counter, value, 0, 0, value + 1, 0, 0)

    blocks = []
    for k in range(0, 40, 2):
        if k != 10:
            blocks.append(decoder.decode(FF01, packet(k, k), k / 100))
        if k != 20:
            blocks.append(decoder.decode(FF02, packet(k, 100 + k), k / 100))
    whole = [block for block in blocks if block is not None]
    assert seqs(whole) == [k for k in range(40) if k not in (10, 11, 20, 21)]
    for block in whole:
        assert block.gyr_rad_s is not None
        assert block.acc_m_s2[:, 0].tolist() == block.seq.tolist()
        assert block.gyr_rad_s[:, 0].tolist() == (block.seq + 100).tolist()
    assert decoder.statistics.lost_samples == 4
    assert decoder.statistics.samples == 36


@pytest.mark.parametrize("payload", [b"", own(0)[:-1], own(0)[:4], own(0) + b"\0", b"\0\0\0"])
def test_a_packet_of_the_wrong_length_is_refused_and_counted(payload: bytes) -> None:
    decoder = Decoder(OWN)
    with pytest.raises(DecodeError):
        decoder.decode(OWN.streams[0].characteristic, payload, 0.0)
    assert decoder.statistics.malformed == 1


def test_readings_that_are_no_numbers_are_refused() -> None:
    decoder = Decoder(parse_profile(FLOATS, "test"))
    with pytest.raises(DecodeError, match="no numbers"):
        decoder.decode(FF01, struct.pack("<H3f", 0, float("nan"), 0, 0), 0.0)


ALL = [*shipped_profiles(), *(parse_profile(text, "test") for text in (SINGLE, FLOATS, PAIR))]


@given(
    profile=st.sampled_from(ALL),
    packets=st.lists(
        st.tuples(st.integers(0, 1), st.floats(0.0, 30.0), st.binary(max_size=260)), max_size=30
    ),
    fitting=st.booleans(),
)
@settings(max_examples=200, deadline=None)
def test_arbitrary_bytes_raise_nothing_but_the_decoder_s_own_error(
    profile: SensorProfile, packets: list[tuple[int, float, bytes]], fitting: bool
) -> None:
    decoder = Decoder(profile)
    last_seq, arrival_s = -1, 0.0
    for which, wait_s, payload in packets:
        arrival_s += wait_s
        stream = profile.streams[which % len(profile.streams)]
        size = stream.header.itemsize + stream.sample.itemsize * max(stream.samples, 1)
        try:
            block = decoder.decode(
                stream.characteristic, payload.ljust(size, b"\1")[:size] if fitting else payload, arrival_s
            )
        except DecodeError:
            continue
        if block is not None:
            assert block.seq[0] > last_seq
            assert np.all(np.diff(block.seq) == 1) or len(profile.streams) == 2
            assert np.isfinite(block.acc_m_s2).all()
            last_seq = int(block.seq[-1])
    statistics = decoder.statistics
    assert statistics.packets == len(packets)
    assert min(statistics.lost_samples, statistics.samples) >= 0
