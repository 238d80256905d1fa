"""bleak's client over bumble."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Awaitable, Callable
from typing import Any, TypeVar

from bleak.args import SizedBuffer
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient, NotifyCallback
from bleak.backends.descriptor import BleakGATTDescriptor
from bleak.backends.device import BLEDevice
from bleak.exc import BleakError, BleakGATTProtocolError
from bumble import att, core, hci
from bumble.device import Connection, Peer

from drivers.bumble_backend.apart import apart
from drivers.bumble_backend.attempt import make_connection
from drivers.bumble_backend.central import Central
from drivers.bumble_backend.services import discover_services
from drivers.bumble_backend.uuids import address_text
from drivers.cancelling import raise_if_cancelled

T = TypeVar("T")
_MTU = 247  # one link-layer packet of 251 bytes (Bluetooth Core, Vol 6, Part B, 2.4) holds it


class BumbleClient(BaseBleakClient):
    """One connection through a shared bumble host.

    Args:
        central: the host.
    """

    def __init__(
        self,
        address_or_ble_device: BLEDevice | str,
        *,
        disconnected_callback: Callable[[], None] | None,
        timeout: float,
        central: Central,
        **_others: Any,
    ) -> None:
        super().__init__(address_or_ble_device, disconnected_callback=disconnected_callback, timeout=timeout)
        self._central = central
        device = address_or_ble_device if isinstance(address_or_ble_device, BLEDevice) else None
        self._name = (device.name if device else None) or self.address
        self._peer_address = device.details if device else hci.Address(self.address)
        self._connection: Connection | None = None
        self._peer: Peer | None = None
        self._forget_radio: Callable[[], None] | None = None
        self._wanted_end = False
        self._bonding = asyncio.Lock()
        self._bonding_asked_for: asyncio.Task[None] | None = None

    @property
    def name(self) -> str:
        """Name of the device, or its address."""
        return self._name

    @property
    def mtu_size(self) -> int:
        """ATT MTU of the connection."""
        return self._connection.att_mtu if self._connection else 23

    @property
    def is_connected(self) -> bool:
        """Whether the connection stands."""
        return self._connection is not None

    async def connect(self, pair: bool, **_others: Any) -> None:
        """Connect, negotiate the MTU and discover all services.

        Raises:
            TimeoutError: when the device is not heard within the client's time-out.
            BleakError: when the connection cannot be made, or is lost at once.
        """
        if self._connection is not None:
            raise BleakError("Client is already connected")
        self._wanted_end = False
        try:
            async with self._central.attempt() as device:
                connection = await make_connection(
                    device, self._peer_address, self.address, self._timeout, self._on_made
                )
        except BaseException:
            self._wanted_end = True
            raise
        try:
            async with asyncio.timeout(self._timeout):
                if pair:
                    await self._bond(connection)
                await self._ask(lambda peer: peer.request_mtu(_MTU))
                self.services = await self._ask(
                    lambda peer: discover_services(peer, lambda: self.mtu_size - 3)
                )
        except BaseException:
            self._wanted_end = True
            await self._end(connection)
            raise

    async def disconnect(self) -> None:
        """Disconnect; nothing happens when that has already been done."""
        self._wanted_end = True
        if self._connection is not None:
            await self._end(self._connection)

    async def pair(self, *_args: Any, **_others: Any) -> None:
        """Bond with the device; where there is a bond already, encrypt the connection by it."""
        connection = self._connection
        if connection is None:
            raise BleakError("Not connected")
        await self._bond(connection)

    async def unpair(self) -> None:
        """Forget the bond."""
        device = await self._central.device()
        if device.keystore is not None:
            await device.keystore.delete(str(self._peer_address))

    async def read_gatt_char(
        self, characteristic: BleakGATTCharacteristic, *, use_cached: bool = False, **_others: Any
    ) -> bytearray:
        """Read a characteristic."""
        return bytearray(await self._ask(lambda _: characteristic.obj.read_value()))

    async def read_gatt_descriptor(
        self, descriptor: BleakGATTDescriptor, *, use_cached: bool = False, **_others: Any
    ) -> bytearray:
        """Read a descriptor."""
        return bytearray(await self._ask(lambda _: descriptor.obj.read_value()))

    async def write_gatt_char(
        self, characteristic: BleakGATTCharacteristic, data: SizedBuffer, response: bool
    ) -> None:
        """Write a characteristic."""
        await self._ask(lambda _: characteristic.obj.write_value(bytes(data), with_response=response))

    async def write_gatt_descriptor(self, descriptor: BleakGATTDescriptor, data: SizedBuffer) -> None:
        """Write a descriptor."""
        await self._ask(lambda _: descriptor.obj.write_value(bytes(data), with_response=True))

    async def start_notify(
        self, characteristic: BleakGATTCharacteristic, callback: NotifyCallback, **_others: Any
    ) -> None:
        """Subscribe to a characteristic."""
        if not {"notify", "indicate"} & set(characteristic.properties):
            raise BleakError(f"characteristic {characteristic.uuid} does not notify")

        def received(value: bytes) -> None:
            callback(bytearray(value))

        await self._ask(lambda _: characteristic.obj.subscribe(received))

    async def stop_notify(self, characteristic: BleakGATTCharacteristic) -> None:
        """End the subscription to a characteristic."""
        await self._ask(lambda _: characteristic.obj.unsubscribe())

    def _on_made(self, connection: Connection) -> None:
        self._connection = connection
        connection.on(Connection.EVENT_DISCONNECTION, self._on_end)
        connection.on(Connection.EVENT_SECURITY_REQUEST, lambda *_: self._on_bond_offered(connection))
        self._forget_radio = self._central.call_when_lost(lambda: self._on_end(None))

    def _on_bond_offered(self, connection: Connection) -> None:
        """The device asks for security (Bluetooth Core, Vol 3, Part H, 2.4.6): it gets a bond."""

        async def bond() -> None:
            with contextlib.suppress(
                BleakError, TimeoutError
            ):  # a device that offers one can be read without
                await self._bond(connection)

        self._bonding_asked_for = asyncio.create_task(bond())

    async def _bond(self, connection: Connection) -> None:
        async with self._bonding:
            if connection.is_encrypted:
                return
            device = await self._central.device()
            peer = str(connection.peer_address)
            keys = device.keystore and await device.keystore.get(peer)
            if keys:
                try:
                    await self._ask(lambda _: connection.encrypt())
                    return
                except BleakError:
                    await device.keystore.delete(peer)  # the sensor has forgotten it
            await self._ask(lambda _: connection.pair())
            if self._peer_address.is_resolvable:  # it is known by its lasting address from now on
                self.address = address_text(connection.peer_address)

    async def _ask(self, request: Callable[[Peer], Awaitable[T]]) -> T:
        """Make a request, and map every way in which bumble says that it failed.

        The connection is looked at first: a request on a dead one would only time out after 30 s.
        """
        connection = self._connection
        if connection is None:
            raise BleakError("Not connected")
        if self._peer is None:
            self._peer = Peer(connection)
        asked = asyncio.ensure_future(request(self._peer))
        try:
            return await apart(asked)
        except att.ATT_Error as error:
            raise BleakGATTProtocolError(error.error_code) from error
        except core.TimeoutError as error:
            raise TimeoutError(str(error)) from error
        except (core.BaseBumbleError, hci.HCI_Error) as error:
            raise BleakError(str(error)) from error
        except asyncio.CancelledError as error:  # bumble cancels what is pending when a connection ends
            raise_if_cancelled(error)
            raise BleakError("The connection was lost during the request") from error
        finally:
            asked.cancel()  # bumble asks one thing at a time: what nobody waits for does not hold up the next

    async def _end(self, connection: Connection) -> None:
        try:
            async with asyncio.timeout(2.0):
                await apart(connection.disconnect())
        except (core.BaseBumbleError, hci.HCI_Error, TimeoutError):
            pass
        except asyncio.CancelledError as error:
            raise_if_cancelled(error)
        self._on_end(None)

    def _on_end(self, _reason: object) -> None:
        """The connection has ended, whoever wanted it and however often it is said."""
        if self._connection is None:
            return
        self._connection = self._peer = self.services = None
        if self._bonding_asked_for is not None:
            self._bonding_asked_for.cancel()
        if self._forget_radio is not None:
            self._forget_radio()
        if self._disconnected_callback is not None and not self._wanted_end:
            self._disconnected_callback()
