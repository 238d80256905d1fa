"""The simulated sensor's own process starts, says how to reach it, and never outlives the program that started it."""

from __future__ import annotations

import asyncio
import shlex
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from drivers.link import SensorLink
from drivers.link_events import LinkState, StateChanged
from drivers.profile import shipped_profiles
from drivers.radio import Radio
from drivers.recording import write_recording
from drivers.samples import SampleBlock
from drivers.scan import scan
from drivers.sniff import Sniffed, sniff
from simulated_sensor.process import SensorProcess, SensorProcessError
from simulated_sensor.serve import SensorSource
from simulated_sensor.trace import SensorTrace, TrueRep
from simulated_sensor.trace_file import load_trace, save_trace
from tests.radio.conftest import Held, make_trace

OWN = shipped_profiles()[0]
THINGY = Path("drivers/profiles/thingy52.toml")


@pytest.fixture(autouse=True)
def _virtual_only(request: pytest.FixtureRequest) -> None:
    if request.config.getoption("--radio", default="bumble") != "bumble":
        pytest.skip("the child brings its own virtual radio")


async def hold(process: SensorProcess) -> Held:
    """Receive from the process's first sensor until it has sent 100 samples."""
    assert process.transport is not None
    held: list[Held] = []
    async with Radio(process.transport) as radio:
        (sensor,) = await scan(radio, 10.0, stop_when=bool)
        assert sensor.profile is not None
        link = SensorLink(
            radio,
            process.addresses[0],
            sensor.profile,
            lambda block: held[0].on_samples(block),
            lambda event: held[0].on_event(event),
        )
        held.append(Held(link, sensor.profile))
        async with link:
            await held[0].until_samples(100)
    return held[0]


async def test_a_trace_is_streamed_from_another_process() -> None:
    trace = make_trace()
    with SensorProcess([(SensorSource("", address="C4:11:22:33:44:55"), trace)]) as process:
        assert process.addresses == ["C4:11:22:33:44:55"]
        held = await hold(process)
    assert np.allclose(held.blocks[0].acc_m_s2, trace.acc_m_s2[:10], rtol=0, atol=1e-9)


@pytest.mark.parametrize("stamped", [True, False])
@pytest.mark.parametrize("rotation", [True, False])
async def test_a_recording_is_played_back_bit_by_bit_and_with_its_gaps(
    tmp_path: Path, rotation: bool, stamped: bool
) -> None:
    path = tmp_path / "set.csv"
    seq = np.delete(np.arange(5, 1005), slice(33, 40))
    rng = np.random.default_rng(8)
    acc, gyr = rng.normal(size=(2, len(seq), 3)) * 300.0
    stamps_s = seq / 150.1 + 7.123456789 if stamped else None
    recorded = SampleBlock(seq, seq // 10 * 10 / 150.0, acc, gyr if rotation else None, stamps_s)
    write_recording(path, recorded)
    with SensorProcess([SensorSource(str(path))]) as process:
        held = await hold(process)
    n = held.samples
    assert np.array_equal(np.concatenate([block.acc_m_s2 for block in held.blocks]), acc[:n])
    played = [block.gyr_rad_s for block in held.blocks if block.gyr_rad_s is not None]
    assert not rotation or np.array_equal(np.concatenate(played), gyr[:n])
    assert np.array_equal(held.seq - held.seq[0], seq[:n] - seq[0])
    assert (held.blocks[0].gyr_rad_s is not None) is rotation
    again = [block.device_time_s for block in held.blocks if block.device_time_s is not None]
    assert np.array_equal(np.concatenate(again), stamps_s[:n]) if stamps_s is not None else again == []
    assert held.link.statistics.lost_samples == 7
    assert load_trace(path).rate_hz == pytest.approx(150.0, rel=1e-3)


async def test_a_station_is_told_when_the_whole_radio_goes_and_keeps_trying() -> None:
    with SensorProcess([(SensorSource(""), make_trace())]) as process:
        assert process.transport is not None
        held: list[Held] = []
        async with Radio(process.transport) as radio:
            link = SensorLink(
                radio,
                process.addresses[0],
                OWN,
                lambda block: held[0].on_samples(block),
                lambda event: held[0].on_event(event),
            )
            held.append(Held(link, OWN))
            async with link:
                await held[0].until_samples(50)
                process.kill()
                words = lambda: [e.words for e in held[0].events if isinstance(e, StateChanged)]  # noqa: E731
                await held[0].until(lambda: any("cannot be opened" in one for one in words()))
                assert held[0].states().count(LinkState.LOST) >= 2


def test_a_bad_file_is_said_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "bad.csv").write_text("seq,host_time_s\n1,2\n")
    with pytest.raises(SensorProcessError, match="column acc_x_m_s2: this column is missing"):
        SensorProcess([SensorSource(str(tmp_path / "bad.csv"))]).start()


def test_the_child_ends_when_the_program_that_started_it_is_killed() -> None:
    program = (
        "from simulated_sensor.process import *; from simulated_sensor.serve import SensorSource\n"
        "from tests.radio.conftest import make_trace\n"
        "p = SensorProcess([(SensorSource(''), make_trace(100))]); p.start(); print(p.transport, flush=True)\n"
        "import sys; sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as parent:
        assert parent.stdout is not None
        transport = parent.stdout.readline().strip()
        assert transport.startswith("tcp-client:127.0.0.1:")
        parent.kill()
        # the grandchild holds the other end of this pipe: reading ends when it does
        assert parent.stdout.read() == ""


def test_a_trace_is_kept_with_its_truth(tmp_path: Path) -> None:
    truth = (TrueRep(1.0, 2.0, 0.5, 0.55, 0.9, 0.5), TrueRep(3.0, 4.0, 0.2, 0.2, 0.4, 0.1, failed=True))
    trace = make_trace(50)
    save_trace(tmp_path / "trace.npz", SensorTrace(trace.rate_hz, trace.acc_m_s2, None, truth))
    again = load_trace(tmp_path / "trace.npz")
    assert again.truth == truth
    assert again.gyr_rad_s is None
    assert np.array_equal(again.acc_m_s2, trace.acc_m_s2)


async def test_the_tool_puts_the_chosen_sensors_on_a_virtual_radio_with_the_chosen_faults() -> None:
    chosen = "--lift 'bench press' --load 60 --reps 1 --sets 1 --errors none --sensors 2 --drop 0.3"
    command = [sys.executable, "-m", "simulated_sensor", *shlex.split(chosen), "--profile", str(THINGY)]
    tool = await asyncio.create_subprocess_exec(*command, stdout=subprocess.PIPE)
    try:
        assert tool.stdout is not None
        transport = (await tool.stdout.readline()).decode().rpartition(" ")[2].strip()
        lines = [(await tool.stdout.readline()).decode() for _ in range(2)]
        assert [line.split("  ", 1)[1].strip() for line in lines] == [
            f"Bar sensor {n}  1 reps" for n in (1, 2)
        ]
        async with Radio(transport) as radio:
            found = await scan(radio, 10.0, stop_when=lambda heard: len(heard) == 2)
            assert {one.address for one in found} == {line.partition(" ")[0] for line in lines}
            assert {one.profile.name for one in found if one.profile} == {"Thingy:52"}
            packets: list[Sniffed] = []
            await sniff(radio, found[0].address, 2.0, lambda *_: None, packets.append)
        assert {len(packet.payload) for packet in packets} == {9 * 2}
        taken = packets[-1].time_s * 200.0
        assert len(packets) == pytest.approx(0.7 * taken, rel=0.15)
    finally:
        tool.kill()
        await tool.wait()


def test_the_tool_says_what_is_wrong_and_ends_with_status_two() -> None:
    for arguments, words in (
        (["--lift", "juggling"], "no lift 'juggling'"),
        (["--file", "none.csv"], "none.csv"),
        (["--profile", "none.toml"], "none.toml"),
    ):
        done = subprocess.run(
            [sys.executable, "-m", "simulated_sensor", *arguments],
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )
        assert done.returncode == 2
        assert words in done.stderr
        assert done.stderr.count("\n") == 1
