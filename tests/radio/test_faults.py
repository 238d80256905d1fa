"""Faults at the worst moments: each is said in words, counted, and mended by the link itself."""

from __future__ import annotations

import asyncio
import dataclasses
import gc
import sys
from collections.abc import Iterator
from contextlib import AsyncExitStack
from typing import Any

import numpy as np
import pytest

from drivers.link_events import LinkState, StateChanged
from drivers.profile import shipped_profiles
from drivers.scan import scan
from simulated_sensor.link_faults import FaultRates
from simulated_sensor.peripheral import SimulatedSensor
from simulated_sensor.virtual_controller import VirtualController
from tests.radio.conftest import Air, Held, make_trace

OWN = shipped_profiles()[0]
# Bluetooth Core, Vol 3, Part F, 3.4: Read By Type (finds characteristics) and Write (subscribes).
READ_BY_TYPE, READ, WRITE = 0x08, 0x0A, 0x12
PLENTY = 2500  # allocated objects; one kept of each packet would be three times as many


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


async def test_a_sensor_that_does_not_answer_is_asked_anew(air: Any) -> None:
    async with air() as there, there.sensor() as (sensor, _):
        if there.kind != "bumble":
            pytest.skip("BlueZ itself reads from the sensor before it says that it is connected")
        server = sensor._device.gatt_server
        answer = server.on_gatt_pdu
        server.on_gatt_pdu = lambda bearer, pdu: None if int(pdu.op_code) == READ else answer(bearer, pdu)
        async with there.link(sensor.address, OWN) as held:
            await held.until_state(LinkState.LOST)
            assert "does not answer when asked" in held.words(LinkState.LOST)
            server.on_gatt_pdu = answer
            await held.until_samples(50)


def adds_up(held: Held) -> bool:
    """Whether every sample between the first and the last was either handed on or counted as lost."""
    statistics = held.link.statistics
    whole = held.seq[-1] + 1 - held.seq[0]
    return bool(np.all(np.diff(held.seq) > 0)) and whole == statistics.samples + statistics.lost_samples


async def test_late_packets_are_neither_lost_nor_a_stall(air: Any) -> None:
    async with air() as there, there.linked() as (held, sensor, _):
        sensor.queue.rates = FaultRates(delay=0.2)
        await held.until_samples(600)
        statistics = held.link.statistics
        assert sensor.queue.count.delayed > 0
        assert (statistics.lost_samples, statistics.reordered, statistics.malformed) == (0, 0, 0)
        assert LinkState.LOST not in held.states()
        assert there.kind != "bumble" or LinkState.STALLED not in held.states()  # the guest is emulated


async def test_packets_that_come_after_later_ones_are_counted_and_not_handed_on(air: Any) -> None:
    async with air() as there, there.linked() as (held, sensor, _):
        sensor.queue.rates = FaultRates(swap=0.2)
        await held.until_samples(600)
        statistics = held.link.statistics
        assert statistics.reordered == pytest.approx(sensor.queue.count.swapped, abs=2)
        assert statistics.lost_samples > 0
        assert adds_up(held)


async def test_corrupt_bytes_neither_end_nor_restart_a_stream(air: Any) -> None:
    async with air() as there, there.linked() as (held, sensor, _):
        # Every third byte string is corrupt: where it is the counter, the packet is refused.
        sensor.queue.rates = FaultRates(corrupt=0.3)
        await held.until_samples(1000)
        statistics = held.link.statistics
        assert sensor.queue.count.corrupted > 0
        assert statistics.restarts == 0
        assert adds_up(held)
        assert LinkState.LOST not in held.states()


async def test_a_sensor_that_ends_the_connection_is_taken_up_once_it_is_back(air: Any) -> None:
    async with air() as there, there.linked() as (held, sensor, _):
        for _ in range(2):
            since = len(held.events)
            await held.until_samples(50)
            await sensor.leave(1.0)
            assert LinkState.STREAMING not in [
                e.state for e in held.events[since:] if isinstance(e, StateChanged)
            ]
            await held.until_state(LinkState.STREAMING, since)
        await held.until_samples(50)
        assert held.link.statistics.duplicates == 0
        assert adds_up(held)


async def test_an_absence_shorter_than_the_supervision_time_out_is_no_lost_connection(air: Any) -> None:
    async with air() as there, there.linked() as (held, _, controller):
        await held.until_samples(50)
        there.virtual.link.move_out_of_range(controller)
        await asyncio.sleep(there.virtual.link.supervision_timeout_s / 3)  # the fault's length, no waiting
        there.virtual.link.move_into_range(controller)
        await held.until_samples(400)  # two seconds: long after the time-out would have ended it
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


async def test_a_characteristic_that_does_not_notify_is_said(air: Any) -> None:
    stream = dataclasses.replace(OWN.streams[0], characteristic="00002a25-0000-1000-8000-00805f9b34fb")
    asked = dataclasses.replace(OWN, streams=(stream,))  # the serial number can be read, no more
    async with air() as there, there.sensor() as (sensor, _), there.link(sensor.address, asked) as held:
        await held.until_state(LinkState.LOST)
        assert "does not offer the stream" in held.words(LinkState.LOST)


@pytest.fixture
def short_collections() -> Iterator[None]:
    """What there is already is left out of collections: one over all of it takes long enough for a link to stall."""
    gc.collect()
    gc.freeze()
    yield
    gc.unfreeze()


@pytest.mark.timeout(240)
@pytest.mark.usefixtures("short_collections")
async def test_ten_thousand_random_packets_leave_no_trace_but_their_count(air: Any) -> None:
    async with AsyncExitStack() as stack:
        there = await stack.enter_async_context(air())
        # Two thousand packets a second; the guest is emulated: with more than forty it falls behind without end.
        speed, in_a_packet = (10.0, 1) if there.kind == "bumble" else (2.0, 10)
        quick = there.linked(make_trace(2000), speed=speed, samples_per_packet=in_a_packet)
        held, sensor, _ = await stack.enter_async_context(quick)
        other, _, _ = await stack.enter_async_context(there.linked(name="Bar sensor 2"))
        packets = 10_000 if there.kind == "bumble" else 1_000  # the guest is emulated
        sensor.queue.rates = FaultRates(noise=1.0)
        before_noise, taken = held.link.statistics, 0

        async def until_packets(wanted: int) -> int:
            nonlocal taken
            while held.link.statistics.packets < wanted:
                held.changed.clear()
                await held.changed.wait()  # a report a second comes, whatever else does
                taken += len(held.blocks)
                held.blocks.clear()
                other.blocks.clear()
            gc.collect()
            return sys.getallocatedblocks()

        held.blocks.clear()
        before = await until_packets(packets // 4)
        after = await until_packets(packets)
        assert after - before < PLENTY
        statistics = held.link.statistics
        noise = statistics.packets - before_noise.packets
        refused = [
            getattr(statistics, kind) - getattr(before_noise, kind)
            for kind in ("malformed", "duplicates", "reordered")
        ]
        assert abs(noise - sum(refused) - taken - len(held.blocks)) <= 1  # each is one of these
        assert refused[0] > noise * 0.8
        # The station was there for others all the time.
        assert other.link.statistics.lost_samples == 0
        assert LinkState.LOST not in other.states()
        assert there.kind != "bumble" or LinkState.STALLED not in other.states()
        sensor.queue.rates = FaultRates()
        await held.until_samples(100)
        assert held.link.state is LinkState.STREAMING
