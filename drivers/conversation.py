"""Connecting to a sensor, and what a link then asks of it: answered in time, or the attempt is over, in words."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Awaitable, Callable, Sequence
from typing import TypeVar

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice
from bleak.exc import BleakError, BleakGATTProtocolError

from drivers.device_information import read_device_information
from drivers.profile import SensorProfile, Write
from drivers.radio import Radio

T = TypeVar("T")
CONNECT_TIMEOUT_S = 5.0
REQUEST_TIMEOUT_S = 3.0
BONDING_TIMEOUT_S = 15.0
ABANDON_AFTER_S = 1.0
# Insufficient authentication and insufficient encryption (Bluetooth Core, Vol 3, Part F, 3.4.1.1)
_WANTS_A_BOND = (0x05, 0x0F)

Received = Callable[[BleakGATTCharacteristic, bytearray], None]


class LinkLostError(Exception):
    """The present attempt has failed; the text says why, in words for people."""


class Conversation:
    """Requests to one connected sensor.

    Args:
        client: connected.
        ended: set when the connection ends.
        name: what to call the sensor.
    """

    def __init__(self, client: BleakClient, ended: asyncio.Event, name: str) -> None:
        self._client, self.ended, self._name = client, ended, name

    def streams(self, profile: SensorProfile) -> list[BleakGATTCharacteristic]:
        """The characteristics that the profile reads.

        Raises:
            LinkLostError: the sensor lacks one, or it does not notify.
        """
        offered = [self._client.services.get_characteristic(one.characteristic) for one in profile.streams]
        found = [one for one in offered if one is not None and "notify" in one.properties]
        if len(found) < len(offered):
            raise LinkLostError(
                f"{self._name} does not offer the stream that the profile '{profile.name}' reads. "
                "Choose the profile that belongs to this sensor."
            )
        return found

    async def identity(self) -> tuple[str, str, str]:
        """Serial number, model and firmware, each empty where the sensor does not say."""
        asked = read_device_information(self._client, "serial", "model", "firmware")
        said = await self._within(asked, "its serial number")
        return said.get("serial", ""), said.get("model", ""), said.get("firmware", "")

    async def battery_percent(self, uuid: str | None) -> int | None:
        """The battery level where there is one; a sensor that refuses is still a sensor."""
        level = self._client.services.get_characteristic(uuid) if uuid else None
        if level is None:
            return None
        try:
            value = await self._within(self._client.read_gatt_char(level), "its battery level")
        except BleakError:
            return None
        return value[0] if len(value) == 1 and value[0] <= 100 else None

    async def settings(self, writes: Sequence[Write]) -> None:
        """Write settings, bonding with the sensor if it wants that."""
        for one in writes:
            await self._bonded(lambda one=one: self._write(one), "its settings")  # type: ignore[misc]

    async def subscribe(self, streams: Sequence[BleakGATTCharacteristic], received: Received) -> None:
        """Start the stream, bonding with the sensor if it wants that."""
        for stream in streams:
            await self._bonded(
                lambda stream=stream: self._client.start_notify(stream, received),  # type: ignore[misc]
                "starting the stream",
            )

    async def _write(self, one: Write) -> None:
        await self._client.write_gatt_char(one.characteristic, one.data, response=one.response)

    async def _bonded(self, request: Callable[[], Awaitable[T]], what: str) -> T:
        """A request that the sensor may answer only to those it has a bond with."""
        try:
            return await self._within(request(), what)
        except BleakGATTProtocolError as error:
            if error.code not in _WANTS_A_BOND:
                raise
        await self._within(self._client.pair(), "a bond", BONDING_TIMEOUT_S)
        return await self._within(request(), what)

    async def _within(self, request: Awaitable[T], what: str, seconds: float = REQUEST_TIMEOUT_S) -> T:
        """A request that must be answered in time and before the connection ends."""
        task = asyncio.ensure_future(request)
        end = asyncio.ensure_future(self.ended.wait())
        try:
            await asyncio.wait({task, end}, timeout=seconds, return_when=asyncio.FIRST_COMPLETED)
            if task.done():
                return task.result()
            if self.ended.is_set():
                raise LinkLostError(f"The connection to {self._name} was lost while asking for {what}.")
            raise LinkLostError(f"{self._name} does not answer when asked for {what}.")
        finally:
            for waiting in (task, end):
                waiting.cancel()
            await asyncio.wait({task, end}, timeout=ABANDON_AFTER_S)
            if task.done() and not task.cancelled():
                task.exception()  # looked at: it was answered too late


async def connect(radio: Radio, device: BLEDevice, name: str, ended: asyncio.Event) -> BleakClient:
    """Connect to a device that was heard.

    Args:
        radio: the radio to use, kept to oneself.
        device: which one.
        name: what to call it.
        ended: set when the connection ends.

    Raises:
        LinkLostError: it cannot be connected to; nothing of the attempt is left.
    """
    client = radio.client(device, lambda _: ended.set(), CONNECT_TIMEOUT_S)
    try:
        async with asyncio.timeout(CONNECT_TIMEOUT_S + 1.0):
            await client.connect()
    except (BleakError, OSError, TimeoutError) as error:
        await release(client)
        raise LinkLostError(
            f"{name} was heard but cannot be connected to ({words(error)}). "
            "Another device may hold it, or it is at the edge of range."
        ) from error
    except asyncio.CancelledError:
        await release(client)
        raise
    return client


async def release(client: BleakClient, stop: Sequence[Write] = ()) -> None:
    """Stop the stream as the profile asks, then disconnect; a sensor that is gone needs neither."""
    gone = BleakError, OSError, TimeoutError, EOFError
    try:
        with contextlib.suppress(*gone):
            async with asyncio.timeout(REQUEST_TIMEOUT_S):
                for one in stop if client.is_connected else ():
                    await client.write_gatt_char(one.characteristic, one.data, response=one.response)
    finally:  # a sensor that does not answer is not to stay connected, nor when nobody waits for the answer any more
        with contextlib.suppress(*gone):
            async with asyncio.timeout(REQUEST_TIMEOUT_S):
                await client.disconnect()


def words(error: BaseException) -> str:
    """What an error says in one line, or what kind it is when it says nothing."""
    text = ": ".join(part for part in error.args if isinstance(part, str))
    return text.partition("\n")[0] or type(error).__name__
