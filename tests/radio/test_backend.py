"""The bleak backend over bumble keeps to what bleak's own client and scanner promise."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from bleak import BleakClient, BleakScanner
from bleak.exc import BleakBluetoothNotAvailableError, BleakError, BleakGATTProtocolError

from drivers.profile import BATTERY_LEVEL, shipped_profiles
from drivers.radio import Radio
from tests.radio.conftest import Air

OWN = shipped_profiles()[0]
STREAM = OWN.streams[0].characteristic
INFORMATION = "33ab0003-9f99-4ef2-b401-7570b8c56028"
# Bluetooth SIG assigned numbers: Serial Number String 0x2A25, Client Characteristic Configuration 0x2902
SERIAL, CONFIGURATION = (f"0000{number}-0000-1000-8000-00805f9b34fb" for number in ("2a25", "2902"))


def ignore(_one: Any, _other: Any) -> None:
    """For callbacks whose calls do not matter."""


async def find(there: Air, address: str) -> Any:
    scanner = there.radio.scanner(ignore)
    async with asyncio.timeout(30.0), scanner:
        return await anext(one async for one, _ in scanner.advertisement_data() if one.address == address)


async def test_services_values_and_descriptors_are_found(air: Any) -> None:
    async with air() as there, there.sensor() as (sensor, _):
        device = await find(there, sensor.address)
        async with there.radio.client(device) as client:
            assert client.is_connected
            stream = client.services.get_characteristic(STREAM)
            assert stream is not None
            assert stream.properties == ["notify"]
            assert stream.service_uuid == OWN.match_service
            assert stream.get_descriptor(CONFIGURATION) is not None
            assert await client.read_gatt_char(BATTERY_LEVEL) == b"\x57"
            assert await client.read_gatt_char(SERIAL) == b"SIM-0001"
            # 200 Hz, 16 g, 2000 degrees a second, layout 1; little-endian, worked out by hand
            assert await client.read_gatt_char(INFORMATION) == bytes.fromhex("c800 1000 d007 01")
        assert not client.is_connected


async def test_notifications_start_and_stop(air: Any) -> None:
    async with air() as there, there.sensor() as (sensor, _):
        device = await find(there, sensor.address)
        async with there.radio.client(device) as client:
            received: asyncio.Queue[bytearray] = asyncio.Queue()
            await client.start_notify(STREAM, lambda _, data: received.put_nowait(data))
            async with asyncio.timeout(30.0):
                first = await received.get()
            assert len(first) == 4 + 10 * 12
            await client.stop_notify(STREAM)
            with pytest.raises(BleakError):
                await client.start_notify(BATTERY_LEVEL.replace("2a19", "2a1a"), ignore)


async def test_what_the_sensor_refuses_is_a_bleak_error(air: Any) -> None:
    thingy = next(profile for profile in shipped_profiles() if profile.name == "Thingy:52")
    async with air() as there, there.sensor(profile=thingy) as (sensor, _):
        device = await find(there, sensor.address)
        async with there.radio.client(device) as client:
            # ATT error 0x0D is "Invalid Attribute Value Length" (Bluetooth Core, Vol 3, Part F, 3.4.1.1)
            with pytest.raises(BleakGATTProtocolError) as refused:
                await client.write_gatt_char(thingy.start[0].characteristic, b"short", response=True)
            assert refused.value.code == 0x0D
            with pytest.raises(BleakError):
                await client.start_notify(SERIAL, ignore)


async def test_the_disconnect_callback_comes_once_when_the_sensor_vanishes(air: Any) -> None:
    async with air() as there, there.sensor() as (sensor, controller):
        device = await find(there, sensor.address)
        calls: list[BleakClient] = []
        gone = asyncio.Event()

        def disconnected(client: BleakClient) -> None:
            calls.append(client)
            gone.set()

        client = there.radio.client(device, disconnected)
        await client.connect()
        there.virtual.link.move_out_of_range(controller)
        async with asyncio.timeout(30.0):
            await gone.wait()
        assert not client.is_connected
        with pytest.raises(BleakError):
            await client.read_gatt_char(BATTERY_LEVEL)
        assert calls == [client]


async def test_a_request_under_way_when_the_connection_ends_fails_at_once(air: Any) -> None:
    async with air() as there, there.sensor() as (sensor, controller):
        device = await find(there, sensor.address)
        client = there.radio.client(device)
        await client.connect()
        there.virtual.link.move_out_of_range(controller)
        with pytest.raises(BleakError):
            async with asyncio.timeout(20.0):
                await client.read_gatt_char(SERIAL)
        await client.disconnect()


async def test_a_connection_refused_at_the_radio_can_be_tried_again(air: Any) -> None:
    async with air() as there, there.sensor() as (sensor, _):
        if there.kind != "bumble":
            pytest.skip("other stacks try again by themselves; the link's own test covers them")
        device = await find(there, sensor.address)
        there.virtual.link.refuse_connections = True
        with pytest.raises((BleakError, TimeoutError)):
            await there.radio.client(device, timeout_s=10.0).connect()
        there.virtual.link.refuse_connections = False
        async with there.radio.client(device) as client:
            assert client.is_connected


async def test_a_device_that_fell_silent_times_out_and_others_still_connect(air: Any) -> None:
    async with air() as there, there.sensor() as (silent, controller), there.sensor() as (sensor, _):
        device, other = await find(there, silent.address), await find(there, sensor.address)
        there.virtual.link.move_out_of_range(controller)
        with pytest.raises((TimeoutError, BleakError)):
            await there.radio.client(device, timeout_s=1.0).connect()
        async with there.radio.client(other) as client:
            assert client.is_connected


async def test_a_radio_that_is_not_there_is_said_so() -> None:
    async with Radio("tcp-client:127.0.0.1:9") as radio:
        with pytest.raises(BleakBluetoothNotAvailableError, match="cannot be opened"):
            await radio.scanner(ignore).start()


async def test_the_backend_is_named_to_bleak(air: Any) -> None:
    async with air() as there:
        scanner = there.radio.scanner(ignore)
        assert isinstance(scanner, BleakScanner)
        if there.kind == "bumble":
            assert scanner.backend_id == "BumbleScanner"
