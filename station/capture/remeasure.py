"""Measuring kept sets and jumps again with today's engine, over all cores. Nothing is written: old beside new."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeVar

from drivers.clock import SampleClock
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.motion.events import MotionEvent, NotMeasured, RepMeasured
from station.squad.errors import UnknownLift
from station.squad.lifts import lift_named
from station.store.errors import RawDamaged
from station.store.kept_raw import KeptJump, KeptSet
from station.store.raw_files import read_raw

BLOCK_SAMPLES = 2000
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


def see_again(folder: Path, kept: KeptSet) -> SeenAgain:
    """The same with all there is to see: reps with their curves, the whole course, and how the link was."""
    try:
        raw = read_raw(folder, kept.file, kept.sha256)
        calibration = Calibration.from_row(kept.calibration) if kept.calibration else None
    except (RawDamaged, ValueError) as error:
        return SeenAgain((), trouble=str(error))
    try:
        lift = lift_named(kept.lift)
    except UnknownLift:
        lift = None
    clock = SampleClock(None)
    engine = MotionEngine(
        "bar", lift, calibration, kept.usual_range_of_motion_m, range_m_s2=kept.sensor_range_m_s2
    )
    events: list[MotionEvent] = []
    timed = []
    for start in range(0, len(raw), BLOCK_SAMPLES):
        timed.append(clock.time(raw.slice(start, start + BLOCK_SAMPLES)))
        events += engine.feed(timed[-1])
    timed.append(clock.finish())
    events += [*engine.feed(timed[-1]), *engine.finish()]
    return SeenAgain(
        tuple(_as_reps(events)),
        engine.live(),
        np.concatenate([block.time_s for block in timed]),
        np.linalg.norm(np.concatenate([block.samples.acc_m_s2 for block in timed]), axis=1),
        link_quality(raw, kept.sensor_range_m_s2),
    )


def _as_reps(events: Sequence[MotionEvent]) -> Iterator[NewRep]:
    """As rows of the record, numbered as at the rack."""
    number = 0
    for event in events:
        if isinstance(event, FailedRep):
            yield failed_rep(event)
        elif isinstance(event, RepMeasured):
            number += 1
            yield measured_rep(event, number)
        elif isinstance(event, NotMeasured):
            number += 1
            yield unmeasured_rep(event, number)


def measure_all_again(
    folder: Path, kept: list[KeptSet], processes: int | None = None
) -> Iterator[MeasuredAgain]:
    """Every set, in order, over all cores of the machine."""
    yield from _over_all_cores(partial(measure_again, folder), kept, processes)


def measure_all_jumps_again(
    folder: Path, kept: list[KeptJump], processes: int | None = None
) -> Iterator[JumpMeasuredAgain]:
    """Every jump, in order, over all cores of the machine."""
    yield from _over_all_cores(partial(measure_jump_again, folder), kept, processes)


def _over_all_cores(again: Callable[[K], A], kept: list[K], processes: int | None) -> Iterator[A]:
    workers = min(processes or os.cpu_count() or 1, max(len(kept), 1))
    if workers == 1:
        yield from (again(one) for one in kept)
        return
    with multiprocessing.get_context("spawn").Pool(workers) as pool:  # no thread of this program goes with it
        yield from pool.imap(again, kept, chunksize=4)
