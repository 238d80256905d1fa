"""What a connected sensor offers, asked over bumble and put into bleak's words."""

from __future__ import annotations

from collections.abc import Callable

from bleak.assigned_numbers import CharacteristicPropertyName
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.descriptor import BleakGATTDescriptor
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bumble.device import Peer

from drivers.bumble_backend.uuids import uuid_text

_PROPERTIES: tuple[CharacteristicPropertyName, ...] = (
    "broadcast",
    "read",
    "write-without-response",
    "write",
    "notify",
    "indicate",
    "authenticated-signed-writes",
    "extended-properties",
)  # in the order of the bits (Bluetooth Core, Vol 3, Part G, 3.3.1.1)


async def discover_services(
    peer: Peer, max_write_without_response_bytes: Callable[[], int]
) -> BleakGATTServiceCollection:
    """All services with their characteristics and descriptors.

    Args:
        peer: whom to ask.
        max_write_without_response_bytes: how much one write without response holds at present.

    Raises:
        BaseBumbleError: as bumble says it.
    """
    collection = BleakGATTServiceCollection()
    for service in await peer.discover_services():
        known = BleakGATTService(service, service.handle, uuid_text(service.uuid))
        collection.add_service(known)
        for one in await service.discover_characteristics():
            bits = int(one.properties)
            names = [name for bit, name in enumerate(_PROPERTIES) if bits >> bit & 1]
            characteristic = BleakGATTCharacteristic(
                one, one.handle, uuid_text(one.uuid), names, max_write_without_response_bytes, known
            )
            collection.add_characteristic(characteristic)
            for descriptor in await one.discover_descriptors():
                collection.add_descriptor(
                    BleakGATTDescriptor(
                        descriptor, descriptor.handle, uuid_text(descriptor.type), characteristic
                    )
                )
    return collection
