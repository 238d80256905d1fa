"""A movement that has to wait is looked at again when something new is known, and nothing is missed by that."""

import numpy as np
import pytest

from simulated_sensor.planned_set import typical_set
from simulated_sensor.sessions import make_session_trace, make_set_trace
from simulated_sensor.trace import SensorTrace
from station.motion import reps, rising
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.motion.events import MotionEvent
from station.motion.waiting import Waiting
from station.squad.lifts import LIFTS
from tests.motion.streams import as_block, reps_of, run


def seen(
    engine: MotionEngine, trace: SensorTrace, monkeypatch: pytest.MonkeyPatch
) -> tuple[list[MotionEvent], int]:
    """The events of a trace, and how often a movement was looked at."""
    looks = 0

    def counted(*args: object) -> object:
        nonlocal looks
        looks += 1
        return smoothed_curve(*args)  # type: ignore[arg-type]

    smoothed_curve = reps.smoothed_curve
    with monkeypatch.context() as patch:
        patch.setattr(reps, "smoothed_curve", counted)
        return run(engine, [as_block(trace)]), looks


def found(
    lift: str, speeds: tuple[float, ...], monkeypatch: pytest.MonkeyPatch
) -> tuple[list[MotionEvent], int]:
    """The same of a set that ends with a failed rep."""
    plan = typical_set(lift, speeds, np.random.default_rng(2), fail_last=True)
    engine = MotionEngine("bar", LIFTS[lift], Calibration(), usual_range_m=plan.range_of_motion_m)
    return seen(engine, make_set_trace(plan, seed=6), monkeypatch)


@pytest.mark.parametrize("lift", ["back squat", "bench press", "deadlift"])
@pytest.mark.parametrize("speeds", [(0.8, 0.6), (0.3, 0.15)], ids=["quick", "slow"])
def test_looking_at_every_frame_finds_the_same(
    lift: str, speeds: tuple[float, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    events, looks = found(lift, speeds, monkeypatch)
    until = Waiting.until
    monkeypatch.setattr(Waiting, "settles_s", lambda *_: 0.0)
    monkeypatch.setattr(
        Waiting, "until", lambda *args, **blind: None if until(*args, **blind) is None else 0.0
    )
    every, all_looks = found(lift, speeds, monkeypatch)
    assert len(reps_of(events)) == len(speeds)
    assert events == every
    assert looks < all_looks


@pytest.mark.parametrize("lift", ["back squat", "overhead press"])
def test_a_bar_that_is_walked_back_to_the_rack_is_not_looked_at_in_every_frame(
    lift: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = typical_set(lift, (0.7, 0.6, 0.5), np.random.default_rng(0))
    trace = make_session_trace([plan, plan], seed=0, rest_between_s=30.0)
    events, looks = seen(MotionEngine("bar", LIFTS[lift]), trace, monkeypatch)
    monkeypatch.setattr(rising, "_LOOK_AGAIN_SHARE", -np.inf)
    every, all_looks = seen(MotionEngine("bar", LIFTS[lift]), trace, monkeypatch)
    assert len(reps_of(events)) == 6
    assert events == every
    assert looks < 0.8 * all_looks


def test_a_bar_that_lies_is_not_looked_at_in_every_frame_of_its_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = typical_set("back squat", (0.7, 0.6, 0.5), np.random.default_rng(2))
    trace = make_session_trace([plan, plan], seed=2, rest_between_s=30.0)
    events, looks = seen(MotionEngine("bar", LIFTS["back squat"]), trace, monkeypatch)
    never = property(lambda _: -np.inf, lambda *_: None)
    monkeypatch.setattr(rising.Rising, "_rest_seen_s", never)
    every, all_looks = seen(MotionEngine("bar", LIFTS["back squat"]), trace, monkeypatch)
    assert len(reps_of(events)) == 6
    assert events == every
    assert looks < 0.8 * all_looks
