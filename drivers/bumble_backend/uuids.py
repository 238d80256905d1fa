"""UUIDs and addresses between bumble and bleak."""

from __future__ import annotations

from bumble.core import UUID
from bumble.hci import Address


def uuid_text(uuid: UUID) -> str:
    """A bumble UUID as bleak writes it: lower case, 128 bits, dashes."""
    text = uuid.to_hex_str("-").lower()
    return f"0000{text}-0000-1000-8000-00805f9b34fb" if len(text) == 4 else text


def address_text(address: Address) -> str:
    """An address as bleak writes it, without its kind."""
    return str(address).partition("/")[0]
