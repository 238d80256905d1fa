"""Which sensors are connected to a station of this machine at this moment: one lock file for each.

A lock, not a line in the book, since it ends with the process that holds it, however that ends.
"""

from __future__ import annotations

import re
from pathlib import Path

from filelock import FileLock, Timeout

from station.store.errors import FolderNotWritable

_PROBED_WITHIN_S = 1.0  # whoever only looks holds it for a moment


def hold(folder: Path, address: str) -> FileLock | None:
    """Say that the sensor at this address is connected, until the lock is released; None when another says so.

    Raises:
        FolderNotWritable: that cannot be said.
    """
    return _taken(folder, address, _PROBED_WITHIN_S)


def is_held(folder: Path, address: str) -> bool:
    """Whether a station says that the sensor at this address is connected.

    Raises:
        FolderNotWritable: that cannot be found out.
    """
    if not _path(folder, address).exists():
        return False
    lock = _taken(folder, address, 0.0)
    if lock is not None:
        lock.release()
    return lock is None


def _path(folder: Path, address: str) -> Path:
    return folder / ("sensor-" + re.sub(r"\W", "", address) + ".lock")


def _taken(folder: Path, address: str, wait_s: float) -> FileLock | None:
    """The lock, taken; None when another has it for so long."""
    path = _path(folder, address)
    lock = FileLock(path, timeout=wait_s, thread_local=False)  # taken in one thread, given back in another
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock.acquire()
    except Timeout:
        return None
    except OSError as error:
        raise FolderNotWritable(folder, error.strerror or str(error)) from error
    return lock
