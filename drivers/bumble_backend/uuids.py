"""UUIDs between bumble and bleak."""

from __future__ import annotations

from bumble.core import UUID


def uuid_text(uuid: UUID) -> str:
    """A bumble UUID as bleak writes it: lower case, 128 bits, dashes."""
    text = uuid.to_hex_str("-").lower()
    return f"0000{text}-0000-1000-8000-00805f9b34fb" if len(text) == 4 else text
