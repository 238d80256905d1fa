"""What an unknown sensor offers and sends: so that somebody can write a profile for it."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from contextlib import AsyncExitStack
from dataclasses import dataclass

from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.exc import BleakError

from drivers.device_information import read_device_information
from drivers.radio import Radio
from drivers.scan import find

_SCAN_S = 10.0


class SniffError(Exception):
    """The sensor cannot be listened to; the text says why."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One characteristic of a sensor."""

    service: str
    characteristic: str
    properties: tuple[str, ...]
    description: str


@dataclass(frozen=True, slots=True)
class Sniffed:
    """One notification: where from, when (s since the first), and the bytes."""

    characteristic: str
    time_s: float
    payload: bytes

    def __str__(self) -> str:
        return f"{self.time_s:9.3f} s  {self.characteristic}  {len(self.payload):3} bytes  {self.payload.hex(' ')}"


async def sniff(
    radio: Radio,
    address: str,
    seconds: float,
    on_offer: Callable[[list[Offer], dict[str, str]], None],
    on_packet: Callable[[Sniffed], None],
) -> None:
    """Connect to any sensor, say what it offers, subscribe to all that notifies, and pass on what comes.

    Args:
        radio: the radio to use.
        address: the sensor.
        seconds: how long to listen, s.
        on_offer: called once with its characteristics and its Device Information strings.
        on_packet: called with every notification.

    Raises:
        SniffError: when it is not in range, cannot be connected to, or ends the connection.
    """
    ended = asyncio.Event()
    began_s: list[float] = []

    def received(characteristic: BleakGATTCharacteristic, payload: bytearray) -> None:
        now_s = time.monotonic()
        began_s[:] = began_s or [now_s]
        on_packet(Sniffed(characteristic.uuid, now_s - began_s[0], bytes(payload)))

    try:
        async with AsyncExitStack() as stack:
            async with radio.alone():
                found = await find(radio, address, min(seconds, _SCAN_S))
                if found is None:
                    raise SniffError(f"{address} is not in range.")
                client = await stack.enter_async_context(radio.client(found[0], lambda _: ended.set()))
            offers = [
                Offer(service.uuid, one.uuid, tuple(one.properties), one.description)
                for service in client.services
                for one in service.characteristics
            ]
            on_offer(offers, await read_device_information(client))
            for one in client.services.characteristics.values():
                if {"notify", "indicate"} & set(one.properties):
                    await client.start_notify(one, received)
            try:
                async with asyncio.timeout(seconds):
                    await ended.wait()
            except TimeoutError:
                return
        raise SniffError(f"{address} has ended the connection.")
    except (BleakError, OSError, TimeoutError, EOFError) as error:
        raise SniffError(f"{address} cannot be listened to ({error}).") from error
