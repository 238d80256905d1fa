"""The right sensor is found by what it does and says, not by its address."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np
import pytest

from drivers.claim import Movement, find_moving
from drivers.link_events import SensorIdentified
from drivers.profile import shipped_profiles
from drivers.scan import scan
from drivers.sniff import Offer, Sniffed, SniffError, sniff
from simulated_sensor.trace import SensorTrace
from tests.radio.conftest import make_trace

OWN = shipped_profiles()[0]


def still(seed: int) -> SensorTrace:
    noise = np.random.default_rng(seed).normal(0.0, 0.03, (2000, 3))
    return SensorTrace(203.0, noise + np.array([0.0, 0.0, 9.81]), np.zeros((2000, 3)))


def lifted(seed: int) -> SensorTrace:
    trace = still(seed)
    shake = 4.0 * np.sin(np.arange(2000) / 203.0 * 2 * np.pi * 0.7)
    return SensorTrace(203.0, trace.acc_m_s2 + np.outer(shake, [0.0, 0.0, 1.0]), trace.gyr_rad_s)


async def test_the_sensor_that_moves_is_the_one_on_this_bar(air: Any) -> None:
    progress: list[list[Movement]] = []
    async with (
        air() as there,
        there.sensor(still(1)),
        there.sensor(lifted(2), name="Bar sensor 2") as (wanted, _),
        there.sensor(still(3)),
    ):
        candidates = await scan(there.radio, 10.0, stop_when=lambda heard: len(heard) == 3)
        found = await find_moving(there.radio, candidates, 60.0, on_progress=progress.append)
    assert found is not None
    assert found.address == wanted.address
    assert len(progress[-1]) == 3


@pytest.mark.parametrize(
    "traces", [(still(1), still(2)), (lifted(1), lifted(2))], ids=["none moves", "two move"]
)
async def test_when_it_is_not_clear_which_moves_nothing_is_claimed(
    air: Any, traces: tuple[SensorTrace, ...]
) -> None:
    progress: list[list[Movement]] = []
    async with air() as there, there.sensor(traces[0]), there.sensor(traces[1]):
        candidates = await scan(there.radio, 10.0, stop_when=lambda heard: len(heard) == 2)
        seconds = 7.0 if there.kind == "bumble" else 19.0  # the guest is emulated
        assert await find_moving(there.radio, candidates, seconds, on_progress=progress.append) is None
    assert progress


async def test_a_battery_level_that_is_advertised_is_known_without_connecting(air: Any) -> None:
    async with air() as there, there.sensor(tells_battery=True, battery_percent=41) as (sensor, _):
        connections: list[object] = []
        sensor._device.on("connection", connections.append)
        found = await scan(there.radio, 10.0, stop_when=lambda heard: bool(heard[0].name))
    assert [one.battery_percent for one in found] == [41]
    assert connections == []


async def test_a_sensor_s_serial_number_is_read(air: Any) -> None:
    async with air() as there, there.linked(serial="SIM-0042\x1b[31m") as (held, _, _):
        (identified,) = [event for event in held.events if isinstance(event, SensorIdentified)]
    assert identified.serial == "SIM-0042 [31m"
    assert identified.model == "Bar sensor"


async def test_a_report_can_be_written_to_a_log(air: Any) -> None:
    async with air() as there, there.linked() as (held, _, _):
        report = await held.next_report()
    logged = json.loads(json.dumps(report.as_json()))
    assert logged["lost_samples"] == 0
    assert logged["packet_rate_hz"] > 0.0
    assert logged["signal_dbm"] == report.signal_dbm


async def test_an_unknown_sensor_can_be_listened_to(air: Any) -> None:
    foreign = dataclasses.replace(OWN, match_service="0000fff0-0000-1000-8000-00805f9b34fb")
    offers: list[Offer] = []
    said: dict[str, str] = {}
    packets: list[Sniffed] = []

    def on_offer(offered: list[Offer], information: dict[str, str]) -> None:
        offers.extend(offered)
        said.update(information)

    async with air() as there, there.sensor(make_trace(), name="Unknown", profile=foreign) as (sensor, _):
        await sniff(
            there.radio, sensor.address, 2.0 if there.kind == "bumble" else 8.0, on_offer, packets.append
        )
        with pytest.raises(SniffError, match="not in range"):
            await sniff(there.radio, "C4:00:00:00:00:01", 1.0, on_offer, packets.append)
    assert OWN.streams[0].characteristic in {
        offer.characteristic for offer in offers if "notify" in offer.properties
    }
    assert said["serial"] == "SIM-0001"
    assert {len(packet.payload) for packet in packets} == {124}
    assert "124 bytes  00 00 00 00" in str(packets[0])
