"""One kept set through today's engine with all there is to see: reps with curves, the course, how the link was.

Nothing is written; `remeasure` does the same for whole seasons and keeps the speeds alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from drivers.clock import SampleClock
from drivers.samples import FloatArray
from station.capture.link_quality import LinkQuality, link_quality
from station.capture.rep_row import failed_rep, measured_rep, unmeasured_rep
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.motion.events import FailedRep, MotionEvent, NotMeasured, RepMeasured, SetEnd
from station.squad.errors import UnknownLift
from station.squad.lifts import lift_named
from station.store.errors import RawDamaged
from station.store.kept_raw import KeptSet
from station.store.raw_files import read_raw
from station.store.rows import NewRep

BLOCK_SAMPLES = 2000


@dataclass(frozen=True, eq=False, slots=True)
class SeenAgain:
    """What today's engine makes of a set's raw samples; `trouble` says why there is nothing.

    Attributes:
        reps: as rows of the record.
        velocity: time (s) and causal vertical velocity (m/s), shape (m,) each: for the trace only.
        time_s, acc_m_s2: of every sample its time and the size of its acceleration, shape (n,), uncalibrated.
    """

    reps: tuple[NewRep, ...]
    velocity: tuple[FloatArray, FloatArray] = field(default_factory=lambda: (np.empty(0), np.empty(0)))
    time_s: FloatArray = field(default_factory=lambda: np.empty(0))
    acc_m_s2: FloatArray = field(default_factory=lambda: np.empty(0))
    quality: LinkQuality | None = None
    trouble: str = ""


def see_again(folder: Path, kept: KeptSet) -> SeenAgain:
    """One set through today's engine, given what the engine was given then.

    Args:
        folder: the record's that keeps the samples.
    """
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
        np.linalg.norm(np.concatenate([block.acc_m_s2 for block in timed]), axis=1),
        link_quality(raw, kept.sensor_range_m_s2),
    )


def _as_reps(events: Sequence[MotionEvent]) -> list[NewRep]:
    """As rows of the record, numbered as at the rack.

    The samples begin some seconds before the set: reps that end another set before it are not its own.
    """
    own: list[NewRep] = []
    over = False
    for event in events:
        if isinstance(event, SetEnd):
            over = True
        elif isinstance(event, RepMeasured | NotMeasured | FailedRep):
            own, over = ([] if over else own), False
            number = 1 + sum(rep.number > 0 for rep in own)
            own.append(_as_rep(event, number))
    return own


def _as_rep(event: RepMeasured | NotMeasured | FailedRep, number: int) -> NewRep:
    if isinstance(event, RepMeasured):
        return measured_rep(event, number)
    return unmeasured_rep(event, number) if isinstance(event, NotMeasured) else failed_rep(event)
