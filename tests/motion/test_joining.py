"""Frames of a bar that lies are joined: by its samples alone, never over the beginning of a movement."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drivers.samples import FloatArray, TimedBlock
from simulated_sensor.planned_set import typical_set
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace
from station.motion import steps
from station.motion.clipping import AtLimit
from station.motion.engine import MotionEngine
from station.motion.events import MotionEvent, RepMeasured
from station.motion.frames import FrameStatistics, frame_ends, padded, statistics
from station.motion.joining import JOINED_FRAMES, calm_frames
from station.squad.lifts import LIFTS
from tests.motion.streams import as_block, in_blocks, reps_of, run

RATE_HZ = 200
FRAME_S = 0.04


def session(lift: str) -> SensorTrace:
    """Two sets; between them the bar lies for longer than it takes to be left alone."""
    plan = typical_set(lift, (0.9, 0.5), np.random.default_rng(5))
    return make_session_trace([plan, plan], seed=21, rest_between_s=9.0)


@pytest.fixture(scope="module", params=["deadlift", "bench press"])
def lifted(request: pytest.FixtureRequest) -> tuple[str, SensorTrace]:
    return request.param, session(request.param)


def fed(lift: str, block: TimedBlock, size: int) -> tuple[list[MotionEvent], FloatArray]:
    engine = MotionEngine("bar", LIFTS[lift])
    events = run(engine, in_blocks(block, size))
    return events, np.stack(engine.live())


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(size=st.integers(1, 900))
def test_which_frames_are_joined_does_not_depend_on_the_blocks(
    lifted: tuple[str, SensorTrace], size: int
) -> None:
    lift, trace = lifted
    events, live = fed(lift, as_block(trace), 4000)
    events_in_parts, live_in_parts = fed(lift, as_block(trace), size)
    assert events_in_parts == events
    np.testing.assert_array_equal(live_in_parts, live)
    assert np.diff(live[0]).max() > 0.9 * JOINED_FRAMES * FRAME_S


def reps_without_joining(monkeypatch: pytest.MonkeyPatch, lift: str, trace: SensorTrace) -> list[RepMeasured]:
    with monkeypatch.context() as patch:
        patch.setattr(steps, "LIES_AFTER_S", np.inf)
        return reps_of(fed(lift, as_block(trace), 400)[0])


def test_a_pull_after_a_long_lie_is_measured_as_without_joining(
    lifted: tuple[str, SensorTrace], monkeypatch: pytest.MonkeyPatch
) -> None:
    lift, trace = lifted
    joined = reps_of(fed(lift, as_block(trace), 400)[0])
    single = reps_without_joining(monkeypatch, lift, trace)
    assert len(joined) == len(single) == len(trace.truth)
    for one, other in zip(joined, single, strict=True):
        assert one.mean_velocity_m_s == pytest.approx(other.mean_velocity_m_s, abs=0.0005)
        assert one.start_time_s == pytest.approx(other.start_time_s, abs=0.001)
        assert one.decided_time_s == other.decided_time_s


def test_no_movement_begins_in_a_joined_frame(lifted: tuple[str, SensorTrace]) -> None:
    lift, trace = lifted
    (end_s, _) = fed(lift, as_block(trace), 400)[1]
    for rep in trace.truth:
        at = int(np.searchsorted(end_s, rep.start_time_s))
        assert end_s[at] - end_s[at - 1] < 2 * FRAME_S


def lying(frames: int, disturb: FloatArray | None = None) -> FrameStatistics:
    """Frames of a lying bar; `disturb` is added to what its upright axis feels."""
    samples = round(frames * FRAME_S * RATE_HZ) + 1
    rng = np.random.default_rng(3)
    acc = np.array([0.0, 0.0, 9.81]) + rng.normal(0, 0.02, (samples, 3))
    if disturb is not None:
        acc[:, 2] += disturb
    time = np.arange(samples) / RATE_HZ
    return statistics(padded(time, acc, rng.normal(0, 0.001, (samples, 3)), frame_ends(time, FRAME_S - 1e-9)))


BEFORE = (0.0, 0.0, 9.81, 0.0, 0.0, 0.0)
FRAMES = JOINED_FRAMES + 3
NOTHING = AtLimit(0, 0.0)
SAMPLES = round(FRAMES * FRAME_S * RATE_HZ) + 1


def test_one_calm_frame_more_than_is_joined_is_asked_for() -> None:
    assert calm_frames(lying(FRAMES), 0, BEFORE, [True] * FRAMES, [NOTHING] * FRAMES) == JOINED_FRAMES + 1


@pytest.mark.parametrize("begins_in", range(JOINED_FRAMES + 1))
def test_a_pull_ends_the_calm_with_the_frame_before_it(begins_in: int) -> None:
    after = np.arange(SAMPLES) / RATE_HZ - begins_in * FRAME_S
    seen = lying(FRAMES, np.clip(after, 0.0, None) * 30.0)  # slower than any lift begins: 3 m/s2 in 0.1 s
    assert calm_frames(seen, 0, BEFORE, [True] * FRAMES, [NOTHING] * FRAMES) == begins_in


@pytest.mark.parametrize("spoilt", range(JOINED_FRAMES + 1))
def test_no_frame_without_a_gyro_or_at_the_limit_of_range_is_joined(spoilt: int) -> None:
    seen = lying(FRAMES)
    blind = [row != spoilt for row in range(FRAMES)]
    clipped = [AtLimit(int(row == spoilt), 0.0) for row in range(FRAMES)]
    assert calm_frames(seen, 0, BEFORE, blind, [NOTHING] * FRAMES) == spoilt
    assert calm_frames(seen, 0, BEFORE, [True] * FRAMES, clipped) == spoilt


def test_a_bar_lying_otherwise_than_before_is_not_calm() -> None:
    tilted = (0.0, 0.3, 9.80, 0.0, 0.0, 0.0)
    turning = (0.0, 0.0, 9.81, 0.0, 0.02, 0.0)
    for before in (tilted, turning):
        assert calm_frames(lying(FRAMES), 0, before, [True] * FRAMES, [NOTHING] * FRAMES) == 0
