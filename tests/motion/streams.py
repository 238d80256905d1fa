"""Traces as the engine reads them, for tests."""

from __future__ import annotations

import numpy as np

from drivers.samples import TimedBlock
from simulated_sensor.trace import SensorTrace
from station.motion.engine import MotionEngine
from station.motion.events import MotionEvent, RepMeasured


def as_block(trace: SensorTrace) -> TimedBlock:
    """The trace on its true clock."""
    counter = np.arange(len(trace))
    return TimedBlock(counter / trace.rate_hz, counter, trace.acc_m_s2, trace.gyr_rad_s)


def in_blocks(block: TimedBlock, size: int) -> list[TimedBlock]:
    """The same samples in blocks of a size."""
    return [block.slice(i, i + size) for i in range(0, len(block), size)]


def run(engine: MotionEngine, blocks: list[TimedBlock]) -> list[MotionEvent]:
    """All events of a whole stream."""
    events = [event for block in blocks for event in engine.feed(block)]
    return events + engine.finish()


def reps_of(events: list[MotionEvent]) -> list[RepMeasured]:
    """The repetitions among the events."""
    return [event for event in events if isinstance(event, RepMeasured)]
