"""Measuring kept sets again with today's engine, over all cores. Nothing is written: old stands beside new."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from drivers.clock import SampleClock
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.motion.events import NotMeasured, RepMeasured
from station.squad.errors import UnknownLift
from station.squad.lifts import lift_named
from station.store.errors import RawDamaged
from station.store.kept_raw import KeptSet
from station.store.raw_files import read_raw

BLOCK_SAMPLES = 2000


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
    try:
        raw = read_raw(folder, kept.file, kept.sha256)
        calibration = Calibration.from_row(kept.calibration) if kept.calibration else None
    except (RawDamaged, ValueError) as error:
        return MeasuredAgain(kept, (), str(error))
    try:
        lift = lift_named(kept.lift)
    except UnknownLift:
        lift = None
    clock = SampleClock(None)
    engine = MotionEngine(
        "bar", lift, calibration, kept.usual_range_of_motion_m, range_m_s2=kept.sensor_range_m_s2
    )
    events = []
    for start in range(0, len(raw), BLOCK_SAMPLES):
        events += engine.feed(clock.time(raw.slice(start, start + BLOCK_SAMPLES)))
    events += [*engine.feed(clock.finish()), *engine.finish()]
    found: list[float | None] = []
    for event in events:
        if isinstance(event, RepMeasured):
            found.append(event.mean_velocity_m_s)
        elif isinstance(event, NotMeasured):
            found.append(None)
    return MeasuredAgain(kept, tuple(found))


def measure_all_again(
    folder: Path, kept: list[KeptSet], processes: int | None = None
) -> Iterator[MeasuredAgain]:
    """Every set, in order, over all cores of the machine."""
    workers = min(processes or os.cpu_count() or 1, max(len(kept), 1))
    if workers == 1:
        yield from (measure_again(folder, one) for one in kept)
        return
    with multiprocessing.get_context("spawn").Pool(workers) as pool:  # no thread of this program goes with it
        yield from pool.imap(partial(measure_again, folder), kept, chunksize=4)
