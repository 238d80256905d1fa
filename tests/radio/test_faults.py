"""Faults at the worst moments: each is said in words, counted, and mended by the link itself."""

from __future__ import annotations

import asyncio
import dataclasses
import tracemalloc
from typing import Any

import numpy as np
import pytest

from drivers.link_events import LinkState
from drivers.profile import shipped_profiles
from drivers.scan import scan
from simulated_sensor.link_faults import FaultRates
from simulated_sensor.peripheral import SimulatedSensor
from simulated_sensor.virtual_controller import VirtualController
from tests.radio.conftest import Air, make_trace

OWN = shipped_profiles()[0]
# Bluetooth Core, Vol 3, Part F, 3.4: Read By Type (finds characteristics) and Write (subscribes).
READ_BY_TYPE, READ, WRITE = 0x08, 0x0A, 0x12
PLENTY = 500_000  # bytes; ten thousand kept packets would be several million


def vanish_on(
    there: Air, sensor: SimulatedSensor, controller: VirtualController, request: int
) -> asyncio.Event:
    """Let the sensor go out of range the moment it is asked this for the first time."""
    vanished = asyncio.Event()
    server = sensor._device.gatt_server  # type: ignore[union-attr]
    answer = server.on_gatt_pdu

    def on_request(bearer: Any, pdu: Any) -> None:
        if int(pdu.op_code) == request and not vanished.is_set():
            there.virtual.link.move_out_of_range(controller)
            vanished.set()
        else:
            answer(bearer, pdu)

    server.on_gatt_pdu = on_request
    return vanished


@pytest.mark.parametrize(
    "request_code", [READ_BY_TYPE, READ, WRITE], ids=["discovery", "reading", "subscription"]
)
async def test_a_connection_that_breaks_at_any_step_is_made_again(air: Any, request_code: int) -> None:
    async with air() as there, there.sensor() as (sensor, controller):
        vanished = vanish_on(there, sensor, controller, request_code)
        async with there.link(sensor.address, OWN) as held:
            async with asyncio.timeout(30.0):
                await vanished.wait()
            await held.until_state(LinkState.LOST)
            assert LinkState.STREAMING not in held.states()
            there.virtual.link.move_into_range(controller)
            await held.until_samples(50)
            assert np.all(np.diff(held.seq) > 0)


async def test_an_absence_shorter_than_the_supervision_time_out_is_no_lost_connection(air: Any) -> None:
    async with air() as there, there.linked() as (held, _, controller):
        await held.until_samples(50)
        there.virtual.link.move_out_of_range(controller)
        await asyncio.sleep(there.virtual.link.supervision_timeout_s / 3)  # the fault's length, no waiting
        there.virtual.link.move_into_range(controller)
        await held.until_samples(100)
        assert LinkState.LOST not in held.states()
        assert held.link.statistics.lost_samples > 0


async def test_a_sensor_that_agrees_to_the_smallest_mtu_only_sends_one_sample_at_a_time(air: Any) -> None:
    # The default ATT MTU is 23 (Bluetooth Core, Vol 3, Part G, 5.2.1): 20 bytes of payload, a counter and a sample.
    async with air() as there, there.linked(largest_mtu=23) as (held, sensor, _):
        await held.until_samples(200)
        (connection,) = sensor._device.connections.values()  # type: ignore[union-attr]
        assert connection.att_mtu == 23
        assert {len(block) for block in held.blocks} == {1}
        assert held.link.statistics.lost_samples == held.link.statistics.malformed == 0


async def test_a_foreign_name_does_not_hide_a_sensor_nor_its_kind(air: Any) -> None:
    async with air() as there, there.sensor(name="Thingy of a neighbour") as (sensor, _):
        (found,) = await scan(there.radio, 10.0, stop_when=lambda heard: bool(heard[0].name))
        assert (found.address, found.profile) == (sensor.address, OWN)


async def test_a_characteristic_that_does_not_notify_is_said(
    air: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    battery = OWN.battery
    assert battery is not None
    stream = dataclasses.replace(OWN.streams[0], characteristic="00002a25-0000-1000-8000-00805f9b34fb")
    asked = dataclasses.replace(OWN, streams=(stream,))  # the serial number can be read, no more
    async with air() as there, there.sensor() as (sensor, _), there.link(sensor.address, asked) as held:
        await held.until_state(LinkState.LOST)
        assert "does not offer the stream" in held.words(LinkState.LOST)


@pytest.mark.timeout(240)
async def test_ten_thousand_random_packets_leave_no_trace_but_their_count(air: Any) -> None:
    async with (
        air() as there,
        there.linked(make_trace(2000), speed=10.0, samples_per_packet=1) as (held, sensor, _),
    ):
        packets = 10_000 if there.kind == "bumble" else 1_000  # the guest is emulated
        sensor.queue.rates = FaultRates(noise=1.0)

        async def until_packets(wanted: int) -> int:
            while held.link.statistics.packets < wanted:
                held.changed.clear()
                await held.changed.wait()  # a report a second comes, whatever else does
                held.blocks.clear()
            return tracemalloc.get_traced_memory()[0]

        tracemalloc.start()
        try:
            before = await until_packets(packets // 4)
            after = await until_packets(packets)
        finally:
            tracemalloc.stop()
        assert after - before < PLENTY
        assert held.link.statistics.malformed > packets * 0.8
        sensor.queue.rates = FaultRates()
        await held.until_samples(100)
        assert held.link.state is LinkState.STREAMING
