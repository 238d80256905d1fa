"""The simulated sensor on the air: a Bluetooth LE peripheral that streams a trace by a sensor profile.

GATT: the profile's service with its streams (notify) and settings (write), Battery (0x180F) and Device Information
(0x180A). The project's own sensor has one characteristic more, with its rate and ranges (see README.md).
"""

from __future__ import annotations

import asyncio
import contextlib
import secrets
import struct
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from bumble import att, core, data_types, hci
from bumble.core import UUID, AdvertisingData
from bumble.device import AdvertisingType, Device, DeviceConfiguration
from bumble.gatt import Characteristic, CharacteristicValue, Service
from bumble.host import Host
from bumble.pairing import PairingConfig

from drivers.profile import SensorProfile, shipped_profiles
from drivers.samples import IntArray
from simulated_sensor.link_faults import FaultyQueue
from simulated_sensor.packets import PacketWriter
from simulated_sensor.trace import SensorTrace

_ADVERTISING_MS = 100
_STOP_WITHIN_S = 3.0
_REST_S = 1.0  # after the end of a trace its last second goes to and fro, so that the sensor still breathes
_INFORMATION = ("33ab0003-9f99-4ef2-b401-7570b8c56028", struct.pack("<HHHB", 200, 16, 2000, 1))
# Bluetooth SIG assigned numbers: Client Characteristic Configuration, Device Information and its
# strings, Battery and its level.
_CONFIGURATION = UUID.from_16_bits(0x2902)
_DEVICE_INFORMATION, _BATTERY = UUID.from_16_bits(0x180A), UUID.from_16_bits(0x180F)
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
    bonded_only: bool = False
    offers_bond: bool = False
    private: bool = False
    profile: SensorProfile = field(default_factory=lambda: shipped_profiles()[0])


class SimulatedSensor:
    """One sensor on one controller.

    The trace begins when the first station subscribes; from then on its time runs, connected or not, as in a real
    sensor: what is not sent is lost.

    Args:
        trace: what it measures.
        settings: what it is.

    Raises:
        ValueError: when the trace lacks what such a sensor sends.

    Attributes:
        queue: what stands between the samples and the radio; faults are injected there.
        sent_samples: samples taken since the stream began.
        written: what a station wrote, by characteristic.
    """

    def __init__(self, trace: SensorTrace, settings: SensorSettings) -> None:
        if trace.gyr_rad_s is None and settings.profile.rotation is not None:
            raise ValueError(
                f"What is to be streamed has no rotation, but a '{settings.profile.name}' sends it."
            )
        self.settings = settings
        self.trace = trace
        self._writer = PacketWriter(settings.profile)
        self._device: Device | None = None
        self._streams: dict[str, Characteristic[bytes]] = {}
        self._task: asyncio.Task[None] | None = None
        self._subscribed = asyncio.Event()
        self._next = 0  # sample of the trace that comes next, and where its counter began
        self._counter_start = 0
        self.queue = FaultyQueue()
        self.sent_samples = 0
        self.written: dict[str, bytes] = {}

    @property
    def address(self) -> str:
        """Its address on the air, once started."""
        assert self._device is not None
        return str(self._device.random_address).partition("/")[0]

    async def start(self, source: Any, sink: Any) -> None:
        """Power the controller behind an HCI source and sink, and advertise.

        Args:
            source, sink: a bumble transport, or a controller on both ends.
        """
        settings = self.settings
        address = hci.Address(settings.address) if settings.address else hci.Address.generate_static_address()
        config = DeviceConfiguration(
            name=settings.name,
            address=address,
            irk=secrets.token_bytes(16),
            le_privacy_enabled=settings.private,
            le_rpa_timeout=0,
        )
        self._device = Device(config=config, host=Host(source, sink))
        if settings.offers_bond:
            self._device.on(Device.EVENT_CONNECTION, lambda connection: connection.request_pairing())
        self._device.pairing_config_factory = _just_works
        self._device.add_services(self._services())
        self._device.gatt_server.max_mtu = settings.largest_mtu
        if settings.bonded_only:
            self._protect_streams()
        await self._device.power_on()
        await self._advertise()
        self._task = asyncio.create_task(self._stream())

    async def stop(self) -> None:
        """Disconnect, stop advertising and power off."""
        if self._task is not None:
            self._task.cancel()
            await asyncio.gather(self._task, return_exceptions=True)
        if self._device is not None:
            with contextlib.suppress(
                TimeoutError, core.BaseBumbleError
            ):  # a controller that is gone answers nothing
                async with asyncio.timeout(_STOP_WITHIN_S):
                    for connection in list(self._device.connections.values()):
                        await connection.disconnect()
                    await self._device.power_off()

    async def leave(self, seconds: float) -> None:
        """End the connection and be unheard for a while; its time goes on."""
        assert self._device is not None
        await self._device.stop_advertising()
        for connection in list(self._device.connections.values()):
            await connection.disconnect()
        await self._device.stop_advertising()
        await asyncio.sleep(seconds)
        await self._advertise()

    async def rotate_address(self) -> None:
        """Take another private address, as such sensors do every quarter of an hour; between connections."""
        assert self._device is not None
        await self._device.stop_advertising()
        await self._device.update_rpa()
        await self._device.send_sync_command(
            hci.HCI_LE_Set_Random_Address_Command(random_address=self._device.random_address)
        )
        await self._advertise()

    def restart_counter(self) -> None:
        """Begin counting at zero, as after a reset."""
        self._counter_start = self._next
        self._writer.restart()

    def _protect_streams(self) -> None:
        """Let only a bonded station subscribe to a stream."""
        assert self._device is not None
        streams = set(self._streams.values())
        for attribute in self._device.gatt_server.attributes:
            if isinstance(attribute, Characteristic):
                here = attribute
            elif attribute.type == _CONFIGURATION and here in streams:
                attribute.permissions |= att.Attribute.Permissions.WRITE_REQUIRES_ENCRYPTION

    async def _advertise(self) -> None:
        assert self._device is not None
        profile = self.settings.profile
        parts: list[Any] = [data_types.Flags(AdvertisingData.Flags(0x06))]
        if profile.match_service:
            parts.append(data_types.CompleteListOf128BitServiceUUIDs([UUID(profile.match_service)]))
        await self._device.start_advertising(
            advertising_type=AdvertisingType.UNDIRECTED_CONNECTABLE_SCANNABLE,
            auto_restart=True,
            advertising_data=bytes(AdvertisingData(parts)),
            scan_response_data=bytes(
                AdvertisingData([data_types.CompleteLocalName(self.settings.name[:26])])
            ),
            advertising_interval_min=_ADVERTISING_MS,
            advertising_interval_max=_ADVERTISING_MS,
        )

    def _services(self) -> list[Service]:
        settings, profile = self.settings, self.settings.profile
        read, notify = Characteristic.Properties.READ, Characteristic.Properties.NOTIFY
        write = Characteristic.Properties.WRITE | Characteristic.Properties.WRITE_WITHOUT_RESPONSE
        readable, writeable = Characteristic.READABLE, Characteristic.WRITEABLE
        for stream in profile.streams:
            characteristic: Characteristic[bytes] = Characteristic(
                stream.characteristic, notify, readable, b""
            )
            characteristic.on(Characteristic.EVENT_SUBSCRIPTION, self._on_subscription)
            self._streams[stream.characteristic] = characteristic
        inside = list(self._streams.values())
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
                Service(_BATTERY, [Characteristic(profile.battery, read | notify, readable, level)])
            )
        return services

    def _keeper(self, characteristic: str) -> Callable[[Any, bytes], None]:
        profile = self.settings.profile
        lengths = {
            len(one.data) for one in (*profile.start, *profile.stop) if one.characteristic == characteristic
        }

        def keep(_bearer: Any, value: bytes) -> None:
            if len(value) not in lengths:
                raise att.ATT_Error(att.ATT_INVALID_ATTRIBUTE_LENGTH_ERROR)
            self.written[characteristic] = value

        return keep

    def _on_subscription(self, _bearer: Any, notify: bool, _indicate: bool) -> None:
        if notify:
            self._subscribed.set()

    async def _stream(self) -> None:
        """Take samples as time goes by and send them to whoever has subscribed."""
        await self._subscribed.wait()
        loop = asyncio.get_running_loop()
        rate_hz = self.trace.rate_hz * self.settings.speed
        started_s = loop.time()
        while True:
            count = self._writer.samples_per_packet(self.settings.samples_per_packet, self._payload_limit())
            await asyncio.sleep(started_s + (self._next + count) / rate_hz - loop.time())
            first, self._next = self._next, self._next + count
            await self._send(first, count)

    def _payload_limit(self) -> int:
        """A notification holds three bytes less than the ATT MTU (Bluetooth Core, Vol 3, Part F, 3.4.7.1)."""
        assert self._device is not None
        return min((one.att_mtu for one in self._device.connections.values()), default=23) - 3

    async def _send(self, first: int, count: int) -> None:
        """Send the samples that are due; those the trace lacks are missing on the air, too."""
        assert self._device is not None
        counters = np.arange(first, first + count)
        rows = self._rows(counters)
        gaps = np.flatnonzero(np.diff(counters[rows >= 0]) > 1) + 1
        for run in np.split(np.flatnonzero(rows >= 0), gaps):
            if not len(run):
                continue
            gyr = None if self.trace.gyr_rad_s is None else self.trace.gyr_rad_s[rows[run]]
            counter = int(counters[run[0]]) - self._counter_start
            packets = self._writer.write(counter, self.trace.acc_m_s2[rows[run]], gyr)
            if (late_s := self.queue.hold_back_s()) > 0.0:
                await asyncio.sleep(late_s)
            for characteristic, payload in self.queue.pass_on(packets):
                await self._device.notify_subscribers(self._streams[characteristic], payload)
        self.sent_samples += count

    def _rows(self, counters: IntArray) -> IntArray:
        """Which row of the trace each counter is, -1 for a missing one; after the end its last second to and fro."""
        n = len(self.trace)
        seq = self.trace.seq
        end = n if seq is None else int(seq[-1]) + 1
        rest = max(1, min(n, round(_REST_S * self.trace.rate_hz)))
        phase = (counters - end) % (2 * rest)
        resting = n - 1 - np.minimum(phase, 2 * rest - 1 - phase)
        rows = counters
        if seq is not None:
            rows = np.minimum(np.searchsorted(seq, counters), n - 1)
            rows = np.where(seq[rows] == counters, rows, -1)
        return np.where(counters < end, rows, resting)


def _just_works(_connection: Any) -> PairingConfig:
    """LE Secure Connections, and a bond; a sensor has neither keys nor a screen."""
    return PairingConfig(
        sc=True, mitm=False, bonding=True, identity_address_type=hci.Address.RANDOM_DEVICE_ADDRESS
    )
