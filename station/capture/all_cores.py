"""The same work over many things, on all cores of the machine."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterator
from typing import TypeVar

K = TypeVar("K")
A = TypeVar("A")


def over_all_cores(again: Callable[[K], A], kept: list[K], processes: int | None = None) -> Iterator[A]:
    """What `again` makes of each, in order.

    Args:
        again: can be pickled.
        processes: how many; None: as many as the machine has cores.
    """
    workers = min(processes or os.cpu_count() or 1, max(len(kept), 1))
    if workers == 1:
        yield from (again(one) for one in kept)
        return
    with multiprocessing.get_context("spawn").Pool(workers) as pool:  # no thread of this program goes with it
        yield from pool.imap(again, kept, chunksize=4)
