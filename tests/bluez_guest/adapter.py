"""In the guest: a real BlueZ adapter whose radio is the virtual link. Linux with the `hci_vhci` module, as root."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from bumble.transport import open_transport
from dbus_fast import BusType, Message, MessageType, Variant
from dbus_fast.aio import MessageBus

from simulated_sensor.virtual_controller import VirtualController, VirtualLink

_PATIENCE_S = 30.0


@asynccontextmanager
async def bluez_adapter(link: VirtualLink) -> AsyncIterator[str]:
    """An adapter of this machine's bluetoothd on a virtual link, powered on; yields its name, such as `hci0`."""
    bus = await MessageBus(bus_type=BusType.SYSTEM).connect()
    before = await _adapters(bus)
    transport = await open_transport("vhci")
    controller = VirtualController("bluez", link, host_source=transport.source, host_sink=transport.sink)
    try:
        async with asyncio.timeout(_PATIENCE_S):
            while not (new := await _adapters(bus) - before):
                await asyncio.sleep(0.1)  # bluetoothd does not say when it is ready to be asked for power
            (path,) = new
            while not await _power(bus, path):
                await asyncio.sleep(0.1)
        yield path.rpartition("/")[2]
    finally:
        controller.remove()
        await transport.close()
        async with asyncio.timeout(_PATIENCE_S):
            while await _adapters(bus) - before:
                await asyncio.sleep(0.1)
        bus.disconnect()
        await bus.wait_for_disconnect()


async def _call(
    bus: MessageBus, path: str, interface: str, member: str, signature: str = "", *body: object
) -> Message:
    reply = await bus.call(
        Message("org.bluez", path, interface, member, signature=signature, body=list(body))
    )
    assert reply is not None
    return reply


async def _adapters(bus: MessageBus) -> set[str]:
    reply = await _call(bus, "/", "org.freedesktop.DBus.ObjectManager", "GetManagedObjects")
    objects = reply.body[0] if reply.message_type is MessageType.METHOD_RETURN else {}
    return {path for path, interfaces in objects.items() if "org.bluez.Adapter1" in interfaces}


async def _power(bus: MessageBus, path: str) -> bool:
    properties = "org.freedesktop.DBus.Properties"
    await _call(bus, path, properties, "Set", "ssv", "org.bluez.Adapter1", "Powered", Variant("b", True))
    reply = await _call(bus, path, properties, "Get", "ss", "org.bluez.Adapter1", "Powered")
    return reply.message_type is MessageType.METHOD_RETURN and bool(reply.body[0].value)
