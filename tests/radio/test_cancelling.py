"""A cancellation reaches whoever waits for the bumble radio, however it falls, and leaves nothing half done.

Up to Python 3.11 `asyncio.wait_for`, with which bumble waits for answers, swallows one that comes together with the
answer. A rack that was to stop then looks for its sensor for ever.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any

import pytest
from bleak import BleakClient

from drivers.bumble_backend import BumbleClient, BumbleScanner, Central
from drivers.profile import BATTERY_LEVEL
from tests.radio.conftest import PATIENCE_S, Air


@pytest.fixture(autouse=True)
def _virtual_only(request: pytest.FixtureRequest) -> None:
    if request.config.getoption("--radio", default="bumble") != "bumble":
        pytest.skip("other stacks do not go through bumble")


@asynccontextmanager
async def host(there: Air) -> AsyncIterator[Central]:
    """A bumble host on a controller of its own."""
    central = Central(await there.virtual.open_port("host"))
    try:
        yield central
    finally:
        await central.close()


async def client_for(central: Central, address: str) -> BleakClient:
    """A client for a sensor that was heard just now."""
    scanner = BumbleScanner(None, None, "active", central=central)
    heard: asyncio.Future[Any] = asyncio.get_running_loop().create_future()

    def on_heard(device: Any, _: Any) -> None:
        if device.address == address and not heard.done():
            heard.set_result(device)

    scanner.register_detection_callback(on_heard)
    await scanner.start()
    async with asyncio.timeout(PATIENCE_S):
        device = await heard
    await scanner.stop()
    return BleakClient(device, backend=BumbleClient, central=central)


def then(first: Callable[[Any], Any], second: Callable[[], object]) -> Callable[[Any], None]:
    """What is done at a call, and the first time something else right after it."""
    left = [second]

    def both(argument: Any) -> None:
        first(argument)
        if left:
            left.pop()()

    return both


async def test_one_that_comes_together_with_the_radio_s_answer_ends_the_scan(air: Any) -> None:
    async with air() as there, host(there) as central:
        device = await central.device()
        scanning = asyncio.create_task(central.start_scan("here", lambda _: None))
        device.host.on_command_processed = then(device.host.on_command_processed, scanning.cancel)
        with pytest.raises(asyncio.CancelledError):
            await scanning
        assert not device.scanning


async def test_one_that_comes_together_with_the_sensor_s_answer_ends_the_request(air: Any) -> None:
    async with (
        air() as there,
        there.sensor() as (sensor, _),
        host(there) as central,
        await client_for(central, sensor.address) as client,
    ):
        (connection,) = (await central.device()).connections.values()
        gatt = connection.gatt_client
        reading = asyncio.create_task(client.read_gatt_char(BATTERY_LEVEL))
        gatt.on_gatt_pdu = then(gatt.on_gatt_pdu, reading.cancel)
        with pytest.raises(asyncio.CancelledError):
            await reading


@pytest.mark.parametrize("when", ["before it is made", "as it is made"])
async def test_of_an_attempt_to_connect_that_is_given_up_nothing_is_left(air: Any, when: str) -> None:
    async with air() as there, there.sensor() as (sensor, _), host(there) as central:
        client = await client_for(central, sensor.address)
        device = await central.device()
        connecting = asyncio.create_task(client.connect())
        if when == "as it is made":
            device.on("connection", lambda _: connecting.cancel())
        else:
            device.host.on_command_processed = then(device.host.on_command_processed, connecting.cancel)
        with pytest.raises(asyncio.CancelledError):
            await connecting
        assert not device.connections
        device.remove_all_listeners("connection")
        async with await client_for(central, sensor.address) as again:
            assert again.is_connected
