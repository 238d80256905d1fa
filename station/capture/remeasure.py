"""Measuring kept sets again with today's engine, over all cores. Nothing is written: old stands beside new."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeVar

from station.capture.rack_view import RepStatus
from station.capture.see_again import BLOCK_SAMPLES as BLOCK_SAMPLES
from station.capture.see_again import see_again
from station.store.kept_raw import KeptSet

K = TypeVar("K")
A = TypeVar("A")


@dataclass(frozen=True, slots=True)
class MeasuredAgain:
    """A set with the mean velocities (m/s) that today's engine finds; `trouble` says why there are none."""

    kept: KeptSet
    velocities_m_s: tuple[float | None, ...]
    trouble: str = ""


def measure_again(folder: Path, kept: KeptSet) -> MeasuredAgain:
    """One set through today's engine, given what the engine was given then.

    Args:
        folder: the record's.
        kept: the set.
    """
    seen = see_again(folder, kept)
    counted = [rep for rep in seen.reps if rep.status != RepStatus.FAILED]
    return MeasuredAgain(kept, tuple(rep.mean_velocity_m_s for rep in counted), seen.trouble)


def measure_all_again(
    folder: Path, kept: list[KeptSet], processes: int | None = None
) -> Iterator[MeasuredAgain]:
    """Every set, in order, over all cores of the machine."""
    yield from over_all_cores(partial(measure_again, folder), kept, processes)


def over_all_cores(again: Callable[[K], A], kept: list[K], processes: int | None) -> Iterator[A]:
    """Each of these, in order, over all cores of the machine or so many processes."""
    workers = min(processes or os.cpu_count() or 1, max(len(kept), 1))
    if workers == 1:
        yield from (again(one) for one in kept)
        return
    with multiprocessing.get_context("spawn").Pool(workers) as pool:  # no thread of this program goes with it
        yield from pool.imap(again, kept, chunksize=4)
