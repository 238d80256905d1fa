"""A bleak backend that uses bumble as the Bluetooth host: for the virtual radio, or any HCI controller bumble opens.

bleak's interface for backends is not part of its stable API; `tests/radio` hold this one to it, and bleak's minor
version is pinned. Importing this needs the optional `simulation` packages.
"""

from drivers.bumble_backend.central import Central
from drivers.bumble_backend.client import BumbleClient
from drivers.bumble_backend.scanner import BumbleScanner

__all__ = ["BumbleClient", "BumbleScanner", "Central"]
