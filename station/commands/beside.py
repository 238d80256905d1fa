"""Runs the chores of a window that has no capture worker: exchange, nightly backup, erasures of other programs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from station.capture.chores import ExchangeChore, KeepingChore
from station.capture.raw_chore import RawChore
from station.capture.room_board import RoomBoard
from station.capture.threads import ChoreThread
from station.commands.rack_command import local_now, utc_now
from station.store.sharing import Role


@contextmanager
def chores_beside(
    folder: Path,
    role: Role,
    erase: Callable[[], object] = lambda: None,
    *,
    raw: bool = False,
    board: RoomBoard | None = None,
    told: Callable[[], object] = lambda: None,
) -> Iterator[None]:
    """While the window is open.

    Args:
        folder: the record's.
        erase: applies what the machine's ledger says; called in the chore's thread.
        raw: raw samples are handed on, slowly; for staff those of all racks are fetched: by one program of a machine.
        board: what the shared database tells of the racks is put there.
        told: rows came from elsewhere; called in the chore's thread.
    """
    running = [
        *([ChoreThread(RawChore(folder, role, local_now))] if raw else []),
        ChoreThread(ExchangeChore(folder, role, utc_now, board), lambda _news: told()),
        ChoreThread(KeepingChore(folder, local_now), lambda _news: erase()),
    ]
    try:
        yield
    finally:
        for one in running:
            one.stop()
