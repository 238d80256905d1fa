"""The radio a station uses: the machine's Bluetooth adapter, or one that bumble opens. The driver code is the same.

Radio operations on one adapter are done one at a time, across all processes of the machine, by a lock file: adapters
take it badly when one program scans while another connects.
"""

from __future__ import annotations

import asyncio
import re
import tempfile
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bleak import BleakClient, BleakScanner
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from filelock import AsyncFileLock

if TYPE_CHECKING:
    from drivers.bumble_backend import Central

Heard = Callable[[BLEDevice, AdvertisementData], None]


class RadioError(Exception):
    """There is no radio to use; the text says what to do."""


class Radio:
    """Hands out bleak's scanners and clients, all on one adapter.

    Use it on one event loop, in an `async with` statement or with `close`.

    Args:
        transport: None for the machine's own adapter through bleak's stock backend; else a bumble transport, such as
            `tcp-client:127.0.0.1:40123` (virtual radio) or `usb:0` (needs the `simulation` extra).
        adapter: which of the machine's adapters, such as `hci0`, on Linux; None for the first one.
        bonds: file in which a bumble transport keeps its bonds; None: they end with the program. The machine's own
            adapter keeps them in the operating system.
    """

    def __init__(
        self, transport: str | None = None, adapter: str | None = None, bonds: Path | None = None
    ) -> None:
        self.transport, self._adapter, self._bonds = transport, adapter, bonds
        self._central: Central | None = None
        self._one_at_a_time = asyncio.Lock()
        # A virtual radio has any number of controllers: nobody else uses this one.
        self._lock_file = None if transport else AsyncFileLock(_lock_path(adapter), poll_interval=0.05)

    @property
    def is_virtual(self) -> bool:
        """Whether the radio is opened by bumble instead of the machine's own Bluetooth."""
        return self.transport is not None

    async def __aenter__(self) -> Radio:
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.close()

    async def close(self) -> None:
        """Give the radio back."""
        if self._central is not None:
            await self._central.close()

    def scanner(self, heard: Heard, service_uuids: list[str] | None = None) -> BleakScanner:
        """A scanner that calls `heard` for every advertisement."""
        return BleakScanner(heard, service_uuids, **self._how("scanner"))

    def client(
        self,
        device: BLEDevice,
        disconnected: Callable[[BleakClient], None] | None = None,
        timeout_s: float = 10.0,
        *,
        pair: bool = False,
    ) -> BleakClient:
        """A client for a device that was heard."""
        return BleakClient(device, disconnected, timeout=timeout_s, pair=pair, **self._how("client"))

    @asynccontextmanager
    async def alone(self) -> AsyncIterator[None]:
        """Keep scanning and connecting on this adapter to one at a time."""
        async with self._one_at_a_time:
            if self._lock_file is None:
                yield
            else:
                async with self._lock_file:
                    yield

    def _how(self, kind: str) -> dict[str, Any]:
        if self.transport is None:
            return {"bluez": {"adapter": self._adapter}} if self._adapter else {}
        try:
            from drivers.bumble_backend import BumbleClient, BumbleScanner, Central
        except ImportError as error:
            raise RadioError(
                "This radio needs more packages: pip install 'bar-speed-station[simulation]'"
            ) from error
        if self._central is None:
            self._central = Central(self.transport, self._bonds)
        return {"backend": BumbleClient if kind == "client" else BumbleScanner, "central": self._central}


def _lock_path(adapter: str | None) -> Path:
    name = re.sub(r"\W", "_", adapter or "adapter")
    return Path(tempfile.gettempdir()) / f"bar-speed-station-{name}.lock"
