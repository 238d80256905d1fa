"""The simulated sensor on the air: a Bluetooth LE peripheral that streams a trace by a sensor profile."""

from __future__ import annotations

import asyncio
import contextlib
import secrets
from typing import Any

import numpy as np
from bumble import core, data_types, hci
from bumble.core import UUID, AdvertisingData
from bumble.device import AdvertisingType, Device, DeviceConfiguration
from bumble.host import Host
from bumble.pairing import PairingConfig

from drivers.samples import IntArray
from simulated_sensor.gatt import BATTERY_SERVICE, GattTable, SensorSettings
from simulated_sensor.link_faults import FaultyQueue
from simulated_sensor.packets import PacketWriter
from simulated_sensor.trace import SensorTrace

__all__ = ["SensorSettings", "SimulatedSensor"]

_ADVERTISING_MS = 100
_STOP_WITHIN_S = 3.0
_REST_S = 1.0  # after the end of a trace its last second goes to and fro, so that the sensor still breathes


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
        self._task: asyncio.Task[None] | None = None
        self._subscribed = asyncio.Event()
        self._away = False  # neither connected nor advertising, by its own will
        self._advertising: asyncio.Task[None] | None = None
        self._next = 0  # sample of the trace that comes next, and where its counter began
        self._counter_start = 0
        self.queue = FaultyQueue()
        self.sent_samples = 0
        self._gatt = GattTable(settings, self._subscribed.set)

    @property
    def written(self) -> dict[str, bytes]:
        """What a station wrote, by characteristic."""
        return self._gatt.written

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
        self._device.on(Device.EVENT_CONNECTION, self._on_connection)
        if settings.offers_bond:
            self._device.on(Device.EVENT_CONNECTION, lambda connection: connection.request_pairing())
        self._device.pairing_config_factory = _just_works
        self._device.add_services(self._gatt.services)
        self._device.gatt_server.max_mtu = settings.largest_mtu
        if settings.bonded_only:
            self._gatt.protect(self._device.gatt_server.attributes)
        await self._device.power_on()
        await self._advertise()
        self._task = asyncio.create_task(self._stream())

    async def stop(self) -> None:
        """Disconnect, stop advertising and power off."""
        self._away = True
        tasks = [task for task in (self._task, self._advertising) if task is not None]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
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
        self._away = True
        await self._device.stop_advertising()
        for connection in list(self._device.connections.values()):
            await connection.disconnect()
        await asyncio.sleep(seconds)
        self._away = False
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

    def _on_connection(self, connection: Any) -> None:
        connection.on(connection.EVENT_DISCONNECTION, self._on_disconnection)

    def _on_disconnection(self, _reason: int) -> None:
        if not self._away:
            self._advertising = asyncio.create_task(self._advertise())

    async def _advertise(self) -> None:
        assert self._device is not None
        profile = self.settings.profile
        parts: list[Any] = [data_types.Flags(AdvertisingData.Flags(0x06))]
        if profile.match_service:
            parts.append(data_types.CompleteListOf128BitServiceUUIDs([UUID(profile.match_service)]))
        if self.settings.tells_battery:  # Core Specification Supplement, Part A, 1.11
            level = bytes([self.settings.battery_percent])
            parts.append(data_types.ServiceData16BitUUID(BATTERY_SERVICE, level))
        await self._device.start_advertising(
            advertising_type=AdvertisingType.UNDIRECTED_CONNECTABLE_SCANNABLE,
            advertising_data=bytes(AdvertisingData(parts)),
            scan_response_data=bytes(
                AdvertisingData([data_types.CompleteLocalName(self.settings.name[:26])])
            ),
            advertising_interval_min=_ADVERTISING_MS,
            advertising_interval_max=_ADVERTISING_MS,
        )

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
            stamps = self.trace.device_time_s
            stamp_s = None if stamps is None else float(stamps[rows[run[0]]])
            packets = self._writer.write(counter, self.trace.acc_m_s2[rows[run]], gyr, stamp_s)
            if (late_s := self.queue.hold_back_s()) > 0.0:
                await asyncio.sleep(late_s)
            for characteristic, payload in self.queue.pass_on(packets):
                await self._device.notify_subscribers(self._gatt.streams[characteristic], payload)
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
