"""A cancellation that an error hides: whoever was to stop goes on for ever, if the error alone is looked at.

A radio stack that fails while a wait is broken off raises its own error in the place of the cancellation.
"""

from __future__ import annotations

import asyncio


def raise_if_cancelled(error: BaseException) -> None:
    """Let a cancellation through that was meant for this task, whatever came in its place.

    Args:
        error: what came; a cancellation, too, where others than this task may have been meant.

    Raises:
        asyncio.CancelledError: this task is to stop.
    """
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError from error
