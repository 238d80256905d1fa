"""Measuring kept jumps again with today's engine, over all cores. Nothing is written: old stands beside new."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from drivers.clock import SampleClock
from station.capture.all_cores import over_all_cores
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.motion.events import JumpMeasured, MotionEvent
from station.store.errors import RawDamaged
from station.store.kept_raw import KeptJump
from station.store.raw_files import read_raw

BLOCK_SAMPLES = 2000


@dataclass(frozen=True, slots=True)
class JumpMeasuredAgain:
    """A jump with the height (m) that today's engine finds, None where it finds none; `trouble` says why."""

    kept: KeptJump
    height_m: float | None
    trouble: str = ""


def measure_jump_again(folder: Path, kept: KeptJump) -> JumpMeasuredAgain:
    """One jump through today's engine: the last one in its file, which may hold the one before it, too.

    Args:
        folder: the record's.
        kept: the jump.
    """
    try:
        raw = read_raw(folder, kept.file, kept.sha256)
        calibration = Calibration.from_row(kept.calibration) if kept.calibration else None
    except (RawDamaged, ValueError) as error:
        return JumpMeasuredAgain(kept, None, str(error))
    engine = MotionEngine("belt", None, calibration, range_m_s2=kept.sensor_range_m_s2)
    clock = SampleClock(None)
    events: list[MotionEvent] = []
    for start in range(0, len(raw), BLOCK_SAMPLES):
        events += engine.feed(clock.time(raw.slice(start, start + BLOCK_SAMPLES)))
    events += [*engine.feed(clock.finish()), *engine.finish()]
    found = [event for event in events if isinstance(event, JumpMeasured)]
    if not found:
        return JumpMeasuredAgain(kept, None, "no jump found")
    return JumpMeasuredAgain(kept, found[-1].jump_height_m)


def measure_all_jumps_again(
    folder: Path, kept: list[KeptJump], processes: int | None = None
) -> Iterator[JumpMeasuredAgain]:
    """Every jump, in order, over all cores of the machine."""
    yield from over_all_cores(partial(measure_jump_again, folder), kept, processes)
