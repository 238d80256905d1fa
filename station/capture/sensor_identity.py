"""Which sensor is which where addresses rotate: by the serial number that it tells whoever is connected to it."""

from __future__ import annotations

import asyncio
import logging

from bleak.exc import BleakError

from drivers.cancelling import raise_if_cancelled
from drivers.device_information import read_serial
from drivers.radio import Radio, RadioError
from drivers.scan import SensorInRange, find
from station.store.known_sensor import KnownSensor
from station.store.sensor_book import SensorBook

log = logging.getLogger(__name__)

LISTEN_S = 3.0  # an advertiser that is there is heard in this time


async def under_another_address(
    radio: Radio, book: SensorBook, mine: KnownSensor, heard: list[SensorInRange], asked: set[str]
) -> SensorInRange | None:
    """A rack's sensor under another address: of those of its name that nobody knows, the one with its number.

    Only that is asked, since Bluetooth tells it to nobody who is not connected.

    Args:
        radio: the radio to use.
        book: where it is written down.
        mine: the rack's sensor.
        heard: who is in range.
        asked: addresses that told their number before, so that no sensor is asked twice; added to.

    Raises:
        StoreError: the book cannot be written.
    """
    if not mine.serial or mine.serial_is_shared:
        return None
    known = {one.address for one in await asyncio.to_thread(book.sensors) if one.serial}
    for sensor in heard:
        if sensor.address in known or sensor.profile is None or sensor.address in asked:
            continue
        if mine.name not in ("", sensor.name):
            continue
        serial = await read_serial(radio, sensor.address)
        if serial == mine.serial:
            now = await asyncio.to_thread(book.identified, sensor.address, sensor.name, serial)
            asked.add(sensor.address)
            return sensor if now.rack == mine.rack else None
        if serial is not None:
            asked.add(sensor.address)
    return None


async def hears_the_other(radio: Radio, book: SensorBook, serial: str, address: str) -> bool | None:
    """Whether the address that had a serial number is on the air while the sensor that told it now is connected.

    Args:
        radio: where to listen.
        book: who had which number.
        serial: what was told.
        address: of the sensor that told it.

    Returns:
        None when it could not be heard: then the two may be one sensor or two.
    """
    try:
        other = await asyncio.to_thread(lambda: book.of_serial(serial, but=address))
        if other is None:
            return False
        async with radio.alone():
            return await find(radio, other.address, LISTEN_S) is not None
    except (BleakError, RadioError, OSError, EOFError) as error:
        raise_if_cancelled(error)
        log.warning("whether the older sensor of number %s is in range could not be heard: %s", serial, error)
        return None
