"""A movement that has to wait is looked at again when something new is known, and nothing is missed by that."""

import numpy as np
import pytest

from simulated_sensor.planned_set import typical_set
from simulated_sensor.sessions import make_set_trace
from station.motion import reps
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.motion.events import MotionEvent
from station.motion.waiting import Waiting
from station.squad.lifts import LIFTS
from tests.motion.streams import as_block, reps_of, run


def found(
    lift: str, speeds: tuple[float, ...], monkeypatch: pytest.MonkeyPatch
) -> tuple[list[MotionEvent], int]:
    """The events of a set that ends with a failed rep, and how often a movement was looked at."""
    looks = 0

    def counted(*args: object) -> object:
        nonlocal looks
        looks += 1
        return smoothed_curve(*args)  # type: ignore[arg-type]

    smoothed_curve = reps.smoothed_curve
    plan = typical_set(lift, speeds, np.random.default_rng(2), fail_last=True)
    engine = MotionEngine("bar", LIFTS[lift], Calibration(), usual_range_m=plan.range_of_motion_m)
    with monkeypatch.context() as patch:
        patch.setattr(reps, "smoothed_curve", counted)
        return run(engine, [as_block(make_set_trace(plan, seed=6))]), looks


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
