"""One attempt to connect over bumble; of one that is given up nothing is left."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable

from bleak.exc import BleakDeviceNotFoundError, BleakError
from bumble import core, hci
from bumble.device import Connection, Device

from drivers.bumble_backend.apart import apart
from drivers.cancelling import raise_if_cancelled

_SOON_S = 0.2  # an advertiser that is there is heard in this time
_GIVEN_UP_WITHIN_S = 2.0


async def make_connection(
    device: Device, peer: hci.Address, name: str, timeout_s: float, made: Callable[[Connection], None]
) -> Connection:
    """Connect to a peer.

    Args:
        device: the host, kept to oneself.
        peer: whom to connect to.
        name: what to call it in errors.
        timeout_s: how long to listen for it, s.
        made: called as soon as it is made: the peer may ask for security, or be gone, at once.

    Raises:
        TimeoutError: when it is not heard in time.
        BleakError: when the connection cannot be made.
    """

    async def connect() -> Connection:
        connection: Connection = await device.connect(peer, timeout=timeout_s)
        made(connection)
        return connection

    attempt = asyncio.ensure_future(connect())
    try:
        return await apart(attempt)
    except core.TimeoutError as error:
        raise TimeoutError(f"{name} was not heard within {timeout_s:g} s") from error
    except core.BaseBumbleError as error:
        raise BleakDeviceNotFoundError(name, f"No connection to {name}: {error}") from error
    except asyncio.CancelledError as error:
        await apart(_give_up(device, attempt))
        raise_if_cancelled(error)
        raise BleakError("The radio was lost while connecting") from error


async def _give_up(device: Device, attempt: asyncio.Future[Connection]) -> None:
    """Left alone, the controller would connect all the same, and the sensor be held by nobody and unheard."""
    await asyncio.wait({attempt}, timeout=_SOON_S)  # bumble cancels only what has begun
    with contextlib.suppress(core.BaseBumbleError, TimeoutError, asyncio.CancelledError):
        async with asyncio.timeout(_GIVEN_UP_WITHIN_S):
            if not attempt.done():
                await device.cancel_connection()
            connection = await attempt
            await connection.disconnect()
