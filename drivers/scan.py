"""Which sensors are in range."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass

from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from drivers.profile import SensorProfile, matching_profile, plain_text, shipped_profiles
from drivers.radio import Radio

_BATTERY_SERVICE = "0000180f-0000-1000-8000-00805f9b34fb"  # Bluetooth SIG assigned number 0x180F


@dataclass(frozen=True, slots=True)
class SensorInRange:
    """A device that was heard.

    Attributes:
        address: what to connect to it by (on macOS not an address but an identifier).
        name: what it calls itself, made safe to show; untrusted.
        profile: the profile that matches, or None for a foreign device.
        signal_dbm: strength when last heard.
        services: 128-bit UUIDs of the services it advertises.
        battery_percent: where it is advertised, else None.
    """

    address: str
    name: str
    profile: SensorProfile | None
    signal_dbm: int
    services: tuple[str, ...]
    battery_percent: int | None


async def scan(
    radio: Radio,
    seconds: float = 3.0,
    profiles: tuple[SensorProfile, ...] | None = None,
    *,
    foreign: bool = False,
    stop_when: Callable[[list[SensorInRange]], bool] | None = None,
) -> list[SensorInRange]:
    """Listen for a while.

    Args:
        radio: where to listen.
        seconds: how long, s.
        profiles: sensors to know; None for those that come with the program.
        foreign: also list devices that match no profile.
        stop_when: called with the sensors heard so far whenever one is new or tells its name; true ends the scan.

    Returns:
        The sensors in range, the strongest first.
    """
    known = shipped_profiles() if profiles is None else profiles
    heard: dict[str, SensorInRange] = {}
    enough = asyncio.Event()

    def on_heard(device: BLEDevice, advertised: AdvertisementData) -> None:
        before = heard.get(device.address)
        sensor = _sensor(device, advertised, known, before)
        if sensor.profile is not None or foreign:
            heard[device.address] = sensor
            news = before is None or (before.name, before.profile) != (sensor.name, sensor.profile)
            if news and stop_when is not None and stop_when(_strongest_first(heard)):
                enough.set()

    async with radio.alone(), radio.scanner(on_heard):
        try:
            async with asyncio.timeout(seconds):
                await enough.wait()
        except TimeoutError:
            pass
    return _strongest_first(heard)


async def find(radio: Radio, address: str, seconds: float) -> tuple[BLEDevice, int] | None:
    """Listen until one device is heard; it and its signal in dBm, or None when it is not."""
    found: asyncio.Future[tuple[BLEDevice, int]] = asyncio.get_running_loop().create_future()

    def on_heard(device: BLEDevice, advertised: AdvertisementData) -> None:
        if device.address.lower() == address.lower() and not found.done():
            found.set_result((device, advertised.rssi))

    async with radio.scanner(on_heard):
        try:
            async with asyncio.timeout(seconds):
                return await found
        except TimeoutError:
            return None


def _sensor(
    device: BLEDevice,
    advertised: AdvertisementData,
    known: tuple[SensorProfile, ...],
    before: SensorInRange | None,
) -> SensorInRange:
    # Name and services may come in different packets (advertisement and scan response): keep what is known.
    raw_name = advertised.local_name or device.name
    name = plain_text(raw_name) or (before.name if before else "")
    services = tuple(advertised.service_uuids) or (before.services if before else ())
    profile = matching_profile(name, services, known)
    battery = advertised.service_data.get(_BATTERY_SERVICE)
    percent = battery[0] if battery and len(battery) == 1 and battery[0] <= 100 else None
    if percent is None and before is not None:
        percent = before.battery_percent
    return SensorInRange(device.address, name, profile, advertised.rssi, services, percent)


def _strongest_first(heard: dict[str, SensorInRange]) -> list[SensorInRange]:
    return sorted(heard.values(), key=lambda sensor: (-sensor.signal_dbm, sensor.address))
