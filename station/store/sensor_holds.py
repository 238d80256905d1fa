"""Which sensors are connected to a station of this machine at this moment: one lock file for each.

A lock, not a line in the book, since it ends with the process that holds it, however that ends.
"""

from __future__ import annotations

import re
from pathlib import Path

from filelock import FileLock, Timeout

_PROBED_WITHIN_S = 1.0  # whoever only looks holds it for a moment


def hold(folder: Path, address: str) -> FileLock | None:
    """Say that the sensor at this address is connected, until the lock is released; None when another says so.

    Raises:
        OSError: the folder cannot be written to.
    """
    lock = _lock(folder, address, _PROBED_WITHIN_S)
    try:
        lock.acquire()
    except Timeout:
        return None
    return lock


def is_held(folder: Path, address: str) -> bool:
    """Whether a station says that the sensor at this address is connected."""
    if not _path(folder, address).exists():
        return False
    try:
        with _lock(folder, address, 0.0):
            return False
    except Timeout:
        return True


def _path(folder: Path, address: str) -> Path:
    return folder / ("sensor-" + re.sub(r"\W", "", address) + ".lock")


def _lock(folder: Path, address: str, wait_s: float) -> FileLock:
    path = _path(folder, address)
    path.parent.mkdir(parents=True, exist_ok=True)
    return FileLock(path, timeout=wait_s, thread_local=False)  # taken in one thread, given back in another
