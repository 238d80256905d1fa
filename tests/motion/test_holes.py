"""A repetition that a hole hides is said to be not measured: never a number, and never forgotten."""

from __future__ import annotations

import pytest

from drivers.samples import TimedBlock
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from station.motion.engine import MotionEngine
from station.motion.events import MotionEvent, NotMeasured, RepMeasured, Trouble
from station.motion.spoilt import LOST_AT_BOUND, LOST_MUCH
from station.squad.lifts import lift_named
from tests.motion.streams import as_block, in_blocks, run

TRACE = make_session_trace([PlannedSet("back squat", (0.6,) * 4, 0.6, longest_pause_s=4.0)], seed=3)
HIDDEN = TRACE.truth[1]
LENGTH_S = HIDDEN.end_time_s - HIDDEN.start_time_s
NEAR_S = 0.3


def without(block: TimedBlock, start_s: float, end_s: float) -> TimedBlock:
    kept = (block.time_s < start_s) | (block.time_s > end_s)
    assert block.gyr_rad_s is not None
    return TimedBlock(block.time_s[kept], block.seq[kept], block.acc_m_s2[kept], block.gyr_rad_s[kept])


def with_a_hole(start_s: float, length_s: float) -> list[MotionEvent]:
    holed = without(as_block(TRACE), start_s, start_s + length_s)
    return run(MotionEngine("bar", lift=lift_named("back squat")), in_blocks(holed, 10))


@pytest.mark.parametrize(
    ("starts_s", "length_s"),
    [(-0.8, 2.0), (0.4, 2.0), (-1.9, 2.0), (-0.6, 0.7), (-0.2, 0.7), (0.1, 0.7), (0.2, 0.3)],
    ids=[
        "it lies inside a hole",
        "it ends in one",
        "it begins in one",
        "its first tenth is missing",
        "its first half is missing",
        "most of it is missing",
        "a third of it is missing",
    ],
)
def test_a_rep_that_a_hole_hides_is_not_measured(starts_s: float, length_s: float) -> None:
    events = with_a_hole(HIDDEN.start_time_s + starts_s, length_s)
    assert len([event for event in events if isinstance(event, NotMeasured)]) == 1
    assert not [event for event in events if isinstance(event, Trouble)]  # a hole is no fault of the sensor
    measured = [event for event in events if isinstance(event, RepMeasured)]
    seen = [true for true in TRACE.truth if true is not HIDDEN]
    assert len(measured) == len(seen)
    for rep, true in zip(measured, seen, strict=True):
        assert abs(rep.start_time_s - true.start_time_s) < NEAR_S
        assert rep.mean_velocity_m_s == pytest.approx(true.mean_velocity_m_s, abs=0.03)


@pytest.mark.parametrize(
    ("starts_s", "length_s", "why"),
    [
        (-0.2, 0.4, LOST_AT_BOUND),
        (0.2, 0.4, LOST_MUCH),
        (LENGTH_S - 0.2, 0.4, LOST_MUCH),
        (LENGTH_S - 0.05, 0.4, LOST_AT_BOUND),
    ],
    ids=["over its start", "in its middle", "most of it at its end", "over its end"],
)
def test_why_a_rep_is_not_measured_is_said_truly(starts_s: float, length_s: float, why: str) -> None:
    events = with_a_hole(HIDDEN.start_time_s + starts_s, length_s)
    assert [event.reason for event in events if isinstance(event, NotMeasured)] == [why]


def test_a_hole_while_the_bar_is_up_hides_nothing() -> None:
    events = with_a_hole(HIDDEN.end_time_s + 0.8, 1.0)
    assert not [event for event in events if isinstance(event, NotMeasured)]
    assert len([event for event in events if isinstance(event, RepMeasured)]) == len(TRACE.truth)


def test_a_rep_that_follows_a_hole_at_the_bottom_is_measured_and_counted_once() -> None:
    paused = PlannedSet("back squat", (0.6,) * 3, 0.6, longest_pause_s=3.0)
    trace = make_session_trace([paused], seed=3)
    true = trace.truth[1]
    holed = without(as_block(trace), true.start_time_s - 0.35, true.start_time_s - 0.05)
    events = run(MotionEngine("bar", lift=lift_named("back squat")), in_blocks(holed, 10))
    assert not [event for event in events if isinstance(event, NotMeasured)]
    assert len([event for event in events if isinstance(event, RepMeasured)]) == 3


def test_what_was_lost_before_a_rep_makes_its_number_less_sure() -> None:
    def second(start_s: float, length_s: float) -> RepMeasured:
        reps = [event for event in with_a_hole(start_s, length_s) if isinstance(event, RepMeasured)]
        return reps[1]

    whole = second(0.0, 0.0)
    holed = second(HIDDEN.start_time_s - 1.0, 0.08)
    assert holed.uncertainty_m_s > 1.05 * whole.uncertainty_m_s
    assert abs(holed.mean_velocity_m_s - HIDDEN.mean_velocity_m_s) < holed.uncertainty_m_s
