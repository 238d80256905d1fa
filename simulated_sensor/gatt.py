"""What the simulated sensor offers: the profile's service, Battery and Device Information.

The project's own sensor has one characteristic more, with its rate and ranges (see README.md).
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from bumble import att
from bumble.core import UUID
from bumble.gatt import Attribute, Characteristic, CharacteristicValue, Service

from drivers.profile import SensorProfile, shipped_profiles

_INFORMATION = ("33ab0003-9f99-4ef2-b401-7570b8c56028", struct.pack("<HHHB", 200, 16, 2000, 1))
# Bluetooth SIG assigned numbers: Client Characteristic Configuration, Device Information and its
# strings, Battery and its level.
_CONFIGURATION = UUID.from_16_bits(0x2902)
_DEVICE_INFORMATION, BATTERY_SERVICE = UUID.from_16_bits(0x180A), UUID.from_16_bits(0x180F)
_MANUFACTURER, _MODEL, _SERIAL, _FIRMWARE = (UUID.from_16_bits(n) for n in (0x2A29, 0x2A24, 0x2A25, 0x2A26))


@dataclass(frozen=True, slots=True)
class SensorSettings:
    """What the simulated sensor is.

    Attributes:
        name: advertised name.
        address: static random address; empty for a new one.
        serial: serial number in Device Information.
        battery_percent: what the battery level reads.
        samples_per_packet: samples in a notification, when the profile leaves it open and the MTU allows.
        speed: time runs this much faster (for tests of the way, not of the measurement).
        largest_mtu: the ATT MTU it agrees to at most.
        bonded_only: it streams only to stations it has a bond with.
        tells_battery: its advertisements carry the battery level, so that nobody has to connect for it.
        offers_bond: it asks every station for a bond, and streams without one, too.
        private: its address is a resolvable private one, which only those can tell it by who have a bond.
        profile: the sensor to be.
    """

    name: str = "Bar sensor 1"
    address: str = ""
    serial: str = "SIM-0001"
    battery_percent: int = 87
    samples_per_packet: int = 10
    speed: float = 1.0
    largest_mtu: int = 517
    tells_battery: bool = False
    bonded_only: bool = False
    offers_bond: bool = False
    private: bool = False
    profile: SensorProfile = field(default_factory=lambda: shipped_profiles()[0])


class GattTable:
    """Services of one sensor.

    Args:
        settings: what it is.
        on_subscription: called when a station subscribes to a stream.

    Attributes:
        streams: characteristics that notify, by UUID.
        services: all of them.
        written: what a station wrote, by characteristic.
    """

    def __init__(self, settings: SensorSettings, on_subscription: Callable[[], None]) -> None:
        self._settings, self._on_subscription = settings, on_subscription
        self.streams: dict[str, Characteristic[bytes]] = {}
        self.written: dict[str, bytes] = {}
        self.services = self._services()

    def protect(self, attributes: list[Attribute[Any]]) -> None:
        """Let only a bonded station subscribe to a stream."""
        streams = set(self.streams.values())
        for attribute in attributes:
            if isinstance(attribute, Characteristic):
                here = attribute
            elif attribute.type == _CONFIGURATION and here in streams:
                attribute.permissions |= att.Attribute.Permissions.WRITE_REQUIRES_ENCRYPTION

    def _services(self) -> list[Service]:
        settings, profile = self._settings, self._settings.profile
        read, notify = Characteristic.Properties.READ, Characteristic.Properties.NOTIFY
        write = Characteristic.Properties.WRITE | Characteristic.Properties.WRITE_WITHOUT_RESPONSE
        readable, writeable = Characteristic.READABLE, Characteristic.WRITEABLE
        for stream in profile.streams:
            characteristic: Characteristic[bytes] = Characteristic(
                stream.characteristic, notify, readable, b""
            )
            characteristic.on(Characteristic.EVENT_SUBSCRIPTION, self._subscribed)
            self.streams[stream.characteristic] = characteristic
        inside = list(self.streams.values())
        written = {one.characteristic for one in (*profile.start, *profile.stop)}
        inside += [
            Characteristic(setting, write, writeable, CharacteristicValue(write=self._keeper(setting)))
            for setting in sorted(written)
        ]
        if profile == shipped_profiles()[0]:
            inside.append(Characteristic(_INFORMATION[0], read, readable, _INFORMATION[1]))
        service = profile.match_service or profile.streams[0].characteristic
        strings = {_MANUFACTURER: "simulated", _MODEL: profile.name, _SERIAL: settings.serial, _FIRMWARE: "1"}
        information = [Characteristic(uuid, read, readable, text.encode()) for uuid, text in strings.items()]
        services = [Service(service, inside), Service(_DEVICE_INFORMATION, information)]
        if profile.battery:
            level = bytes([settings.battery_percent])
            services.append(
                Service(BATTERY_SERVICE, [Characteristic(profile.battery, read | notify, readable, level)])
            )
        return services

    def _keeper(self, characteristic: str) -> Callable[[Any, bytes], None]:
        profile = self._settings.profile
        lengths = {
            len(one.data) for one in (*profile.start, *profile.stop) if one.characteristic == characteristic
        }

        def keep(_bearer: Any, value: bytes) -> None:
            if len(value) not in lengths:
                raise att.ATT_Error(att.ATT_INVALID_ATTRIBUTE_LENGTH_ERROR)
            self.written[characteristic] = value

        return keep

    def _subscribed(self, _bearer: Any, notify: bool, _indicate: bool) -> None:
        if notify:
            self._on_subscription()
