"""One bumble host, shared by the scanner and all clients of a radio."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from bleak.exc import BleakBluetoothNotAvailableError, BleakBluetoothNotAvailableReason, BleakError
from bumble import core, hci
from bumble.device import Device, DeviceConfiguration
from bumble.host import Host
from bumble.keys import JsonKeyStore
from bumble.pairing import PairingConfig
from bumble.transport import open_transport
from bumble.transport.common import Transport, TransportInitError, TransportSpecError

from drivers.bumble_backend.apart import apart
from drivers.cancelling import raise_if_cancelled

ANSWER_WITHIN_S = 10.0


class Central:
    """Opens an HCI transport and powers the controller behind it when first used, and again after it was lost.

    It belongs to the event loop it is first used in.

    Args:
        transport: a bumble transport, such as `tcp-client:127.0.0.1:40123`, `usb:0` or `serial:/dev/ttyACM0,1000000`.
        bonds: file in which bonds are kept, with the address that they hold for; None: they end with the program.
    """

    def __init__(self, transport: str, bonds: Path | None = None) -> None:
        self._spec, self._bonds = transport, bonds
        self._lock = asyncio.Lock()
        self._connecting = asyncio.Lock()  # two connection attempts at once corrupt bumble's state
        self._transport: Transport | None = None
        self._device: Device | None = None
        self._scanners: dict[object, Callable[[Any], None]] = {}
        self._on_lost: set[Callable[[], None]] = set()

    async def device(self) -> Device:
        """The powered host.

        Raises:
            BleakBluetoothNotAvailableError: when the controller cannot be opened.
        """
        return await apart(self._opened())

    async def close(self) -> None:
        """Close the transport; clients still connected are disconnected."""
        async with self._lock:
            device, self._device = self._device, None
            if device is not None:
                for connection in list(device.connections.values()):
                    try:
                        async with asyncio.timeout(1.0):
                            await apart(connection.disconnect())
                    except (core.BaseBumbleError, TimeoutError):
                        pass
                    except asyncio.CancelledError as error:
                        raise_if_cancelled(error)
            await self._close_transport()

    async def start_scan(self, key: object, heard: Callable[[Any], None]) -> None:
        """Hand every advertisement to `heard` until `stop_scan` is called with the same key."""
        try:
            await apart(self._start_scan(key, heard))
        except asyncio.CancelledError:
            with contextlib.suppress(BleakError):
                await self.stop_scan(key)  # nobody else would: who was cancelled here has no scan yet
            raise

    async def stop_scan(self, key: object) -> None:
        """End one scan; the radio stops scanning with the last of them."""
        await apart(self._stop_scan(key))

    def identity_of(self, address: hci.Address) -> hci.Address | None:
        """The lasting address behind one that rotates, by a bond's key (Bluetooth Core, Vol 6, Part B, 1.3.2.3)."""
        resolver = self._device.address_resolver if self._device is not None else None
        return resolver.resolve(address) if resolver is not None and address.is_resolvable else None

    @asynccontextmanager
    async def attempt(self) -> AsyncIterator[Device]:
        """The host for one connection attempt at a time."""
        async with self._connecting:
            yield await self.device()

    def call_when_lost(self, callback: Callable[[], None]) -> Callable[[], None]:
        """Call back when the controller is gone; returns what ends that."""
        self._on_lost.add(callback)
        return lambda: self._on_lost.discard(callback)

    async def _opened(self) -> Device:
        async with self._lock:
            if self._device is None:
                await self._open()
            assert self._device is not None
            return self._device

    async def _start_scan(self, key: object, heard: Callable[[Any], None]) -> None:
        device = await self._opened()
        async with self._lock:
            self._scanners[key] = heard
            if not device.scanning:
                async with self._answered():
                    await device.start_scanning(legacy=True, active=True, filter_duplicates=False)

    async def _stop_scan(self, key: object) -> None:
        async with self._lock:
            self._scanners.pop(key, None)
            if not self._scanners and self._device is not None and self._device.scanning:
                async with self._answered():
                    await self._device.stop_scanning(legacy=True)

    async def _open(self) -> None:
        try:
            transport = await open_transport(self._spec)
        except (OSError, TransportInitError, TransportSpecError, ValueError) as error:
            raise BleakBluetoothNotAvailableError(
                f"The radio at {self._spec} cannot be opened ({error}).",
                BleakBluetoothNotAvailableReason.NO_BLUETOOTH,
            ) from error
        address = _own_address(self._bonds)
        config = DeviceConfiguration(name="station", address=address)
        device = Device(config=config, host=Host(transport.source, transport.sink))
        if self._bonds is not None:
            device.keystore = JsonKeyStore(str(address), str(self._bonds))
            device.on(Device.EVENT_KEY_STORE_UPDATE, self._keep_bonds_private)
        # LE Secure Connections and a bond; nobody types at a sensor ("just works").
        device.pairing_config_factory = lambda _: PairingConfig(
            sc=True, mitm=False, bonding=True, identity_address_type=hci.Address.RANDOM_DEVICE_ADDRESS
        )
        self._transport = transport
        device.on(Device.EVENT_ADVERTISEMENT, self._heard)
        try:
            async with self._answered():
                await device.power_on()
        except BleakError:
            await self._close_transport()
            raise
        self._device = device
        transport.source.terminated.add_done_callback(lambda _: self._lost(device))

    @asynccontextmanager
    async def _answered(self) -> AsyncIterator[None]:
        """A request to the controller that must be answered in time."""
        try:
            async with asyncio.timeout(ANSWER_WITHIN_S):
                yield
        except (TimeoutError, core.BaseBumbleError) as error:
            raise BleakError(f"The radio at {self._spec} does not answer.") from error

    def _keep_bonds_private(self) -> None:
        if self._bonds is not None:
            self._bonds.chmod(0o600)

    async def _close_transport(self) -> None:
        transport, self._transport = self._transport, None
        self._scanners.clear()
        if transport is not None:
            await transport.close()

    def _heard(self, advertisement: Any) -> None:
        for heard in list(self._scanners.values()):
            heard(advertisement)

    def _lost(self, device: Device) -> None:
        if self._device is device:
            self._device = None
            self._scanners.clear()
        for callback in list(self._on_lost):
            callback()


def _own_address(bonds: Path | None) -> hci.Address:
    """The static address that the bonds were made with; without any a new one."""
    try:
        kept = json.loads(bonds.read_text(encoding="utf-8")) if bonds is not None else {}
        return hci.Address(next(iter(kept)))
    except (OSError, ValueError, StopIteration, core.BaseBumbleError):
        return hci.Address.generate_static_address()
