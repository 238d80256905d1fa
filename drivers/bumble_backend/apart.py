"""Requests to bumble run apart from whoever makes them.

bumble waits for answers with `asyncio.wait_for`, which up to Python 3.11 swallows a cancellation that arrives
together with the answer: whoever was to stop goes on for ever. And a command that is broken off leaves bumble to
take its answer for the next one's. So whoever asks is cancelled at once, and the request is carried to its end.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable
from typing import Any, TypeVar

T = TypeVar("T")

_under_way: set[asyncio.Future[Any]] = set()  # the loop itself holds its tasks weakly


async def apart(request: Awaitable[T]) -> T:
    """What a request gives; a cancellation ends the waiting, not the request, and is never lost."""
    running = asyncio.ensure_future(request)
    _under_way.add(running)
    running.add_done_callback(_under_way.discard)
    return await asyncio.shield(running)
