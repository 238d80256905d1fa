"""Running the engine over cases and comparing what it found with the truth."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from drivers.samples import TimedBlock
from simulated_sensor.trace import TrueRep
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.motion.events import FailedRep, MotionEvent, NotMeasured, RepMeasured
from station.squad.lifts import LIFTS
from tests.validation.scenarios import Case, on_clock

_BLOCK = 400
_MUCH = 0.25  # of a rep's samples: with more lost it need not be measured
Measure = Callable[[Case, bool], list[MotionEvent]]


@dataclass
class Outcome:
    """Counts and errors of one condition; `little_lost` of those not measured lost a quarter of their samples at
    most."""

    true: int = 0
    missed: int = 0
    invented: int = 0
    not_measured: int = 0
    little_lost: int = 0
    failed_true: int = 0
    failed_found: int = 0
    rows: list[tuple[float, ...]] = field(default_factory=list)
    lifts: list[str] = field(default_factory=list)

    def add(self, other: Outcome) -> None:
        """Take another outcome's counts and rows in."""
        counts = ("true", "missed", "invented", "not_measured", "little_lost", "failed_true", "failed_found")
        for count in counts:
            setattr(self, count, getattr(self, count) + getattr(other, count))
        self.rows += other.rows
        self.lifts += other.lifts

    def column(self, index: int) -> NDArray[np.float64]:
        """MV error, uncertainty, delay, true MV, PV error, MPV error, displacement error, true PV, and the MV error
        of a perfect treatment of the samples."""
        return np.array([row[index] for row in self.rows])


def streamed(case: Case, calibrated: bool) -> list[MotionEvent]:
    """What the station finds, sample packets through clock and engine."""
    clock = on_clock(case)
    engine = MotionEngine(
        "bar",
        LIFTS[case.lift] if case.lift else None,
        calibration=Calibration() if calibrated else None,
        usual_range_m=case.usual_range_m,
        range_m_s2=case.range_m_s2,
    )
    events: list[MotionEvent] = []
    for start in range(0, len(case.arrived), _BLOCK):
        events += engine.feed(clock.time(case.arrived.slice(start, start + _BLOCK)))
    return events + engine.feed(clock.finish()) + engine.finish()


def on_true_clock(case: Case) -> TimedBlock:
    """The case's samples at their true times."""
    block = case.arrived
    return TimedBlock(block.seq / case.trace.rate_hz, block.seq, block.acc_m_s2, block.gyr_rad_s)


def compare(cases: Iterable[Case], measure: Measure = streamed, *, calibrated: bool = True) -> Outcome:
    """Measure every case and match reps with the truth by overlap in time."""
    outcome = Outcome()
    for case in cases:
        _compare_one(case, measure(case, calibrated), outcome)
    return outcome


def _compare_one(case: Case, events: list[MotionEvent], outcome: Outcome) -> None:
    reps = [event for event in events if isinstance(event, RepMeasured)]
    holes = [event for event in events if isinstance(event, NotMeasured)]
    outcome.failed_true += sum(rep.failed for rep in case.trace.truth)
    outcome.failed_found += sum(isinstance(event, FailedRep) for event in events)
    matched: set[int] = set()
    felt = () if case.trace.felt_m_s is None else case.trace.felt_m_s
    for true, felt_m_s in zip(case.trace.truth, felt, strict=True):
        if true.failed:
            continue
        outcome.true += 1
        found = [rep for rep in reps if _overlap(rep, true) > 0.5]
        if len(found) == 1:
            matched.add(id(found[0]))
            outcome.rows.append(_errors(found[0], true, felt_m_s))
            outcome.lifts.append(case.lift or "")
        elif any(_overlap(hole, true) > 0.0 for hole in holes):
            outcome.not_measured += 1
            outcome.little_lost += _lost_share(case, true) <= _MUCH
        else:
            outcome.missed += 1
    outcome.invented += sum(id(rep) not in matched for rep in reps)


def _lost_share(case: Case, true: TrueRep) -> float:
    """Share of a rep's samples that never came."""
    first, last = (round(at_s * case.trace.rate_hz) for at_s in (true.start_time_s, true.end_time_s))
    seq = case.arrived.seq
    return 1.0 - float(((seq >= first) & (seq <= last)).sum()) / (last - first + 1)


def _overlap(found: RepMeasured | NotMeasured, true: TrueRep) -> float:
    common = min(found.end_time_s, true.end_time_s) - max(found.start_time_s, true.start_time_s)
    return common / (true.end_time_s - true.start_time_s)


def _errors(rep: RepMeasured, true: TrueRep, felt_m_s: float) -> tuple[float, ...]:
    return (
        rep.mean_velocity_m_s - true.mean_velocity_m_s,
        rep.uncertainty_m_s,
        rep.decided_time_s - true.end_time_s,
        true.mean_velocity_m_s,
        rep.peak_velocity_m_s - true.peak_velocity_m_s,
        rep.mean_propulsive_velocity_m_s - true.mean_propulsive_velocity_m_s,
        rep.displacement_m - true.displacement_m,
        true.peak_velocity_m_s,
        felt_m_s - true.mean_velocity_m_s,
    )
