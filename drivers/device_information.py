"""What a sensor says of itself in the Device Information service (0x180A)."""

from __future__ import annotations

from bleak import BleakClient
from bleak.exc import BleakError

from drivers.cancelling import raise_if_cancelled
from drivers.profile import full_uuid, plain_text
from drivers.radio import Radio
from drivers.scan import find

# Bluetooth SIG assigned numbers
_STRINGS = {
    "manufacturer": "2a29",
    "model": "2a24",
    "serial": "2a25",
    "hardware": "2a27",
    "firmware": "2a26",
    "software": "2a28",
}


async def read_device_information(client: BleakClient, *wanted: str) -> dict[str, str]:
    """Read the strings that are there; untrusted text, made safe to show.

    Args:
        client: a connected client.
        wanted: which of manufacturer, model, serial, hardware, firmware and software; all when none is named.
    """
    found: dict[str, str] = {}
    for name in wanted or _STRINGS:
        uuid = full_uuid(_STRINGS[name])
        characteristic = client.services.get_characteristic(uuid) if uuid else None
        if characteristic is None or "read" not in characteristic.properties:
            continue
        try:
            value = await client.read_gatt_char(characteristic)
        except BleakError:
            continue  # a sensor that will not say is still a sensor
        found[name] = plain_text(value.decode("utf-8", errors="replace"))
    return found


async def read_serial(radio: Radio, address: str, seconds: float = 5.0) -> str | None:
    """Connect to a sensor only to ask its serial number; empty when it says none, None when it cannot be asked."""
    try:
        async with radio.alone():
            found = await find(radio, address, seconds)
            if found is None:
                return None
            async with radio.client(found[0], timeout_s=seconds) as client:
                return (await read_device_information(client, "serial")).get("serial", "")
    except (BleakError, OSError, TimeoutError, EOFError) as error:
        raise_if_cancelled(error)
        return None
