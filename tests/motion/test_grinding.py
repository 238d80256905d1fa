"""Slow bars: half-way up nothing is taken for rest, ringing starts no rep, contradicted rests are taken back."""

from __future__ import annotations

import numpy as np
import pytest

from drivers.samples import FloatArray
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from station.motion.attitude import Stillness, StillnessReading
from station.motion.bounds import Movement, measure, upward_runs
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.motion.events import FailedRep
from station.motion.judge import Judge
from station.motion.live import BOTTOM, CONSTANTS, STATES, TOP, VerticalFilter, VerticalStep
from station.motion.parameters import EngineParameters
from station.motion.rest import RestAssumption
from station.motion.rest_test import smoothed_with_true_rests
from station.motion.smoother import SmootherInput, smooth
from station.motion.tilt_filter import TiltFilter
from station.motion.watches import TurnWatch
from station.squad.lifts import LIFTS
from tests.motion.streams import as_block, reps_of, run
from tests.motion.test_shocks import DEVELOPMENT_SEEDS_FROM, outcome
from tests.validation.outcome import streamed
from tests.validation.scenarios import no_lift_case

P = EngineParameters()
FRAME_S = 0.04


def stretch(velocity_m_s: FloatArray, rests: dict[int, float]) -> SmootherInput:
    """Frames with this velocity at their ends, begun at rest, and zero velocity assumed at some of them."""
    n = len(velocity_m_s)
    before = np.concatenate([[0.0], velocity_m_s[:-1]])
    rest = np.zeros(n)
    rest[list(rests)] = list(rests.values())
    nothing, none = np.zeros((n, CONSTANTS)), np.zeros(n)
    first = np.diag([1e-4, 1e-6, *[1e-6] * (CONSTANTS - 3), 1.0, 1.0, 1.0])
    assert first.shape == (STATES, STATES)
    dv = velocity_m_s - before
    return SmootherInput(
        np.full(n, FRAME_S),
        dv,
        0.5 * FRAME_S * dv,
        nothing,
        nothing,
        np.full(n, 1e-6),
        rest,
        none,
        none,
        np.full(n, P.wander_m),
        np.zeros(STATES),
        first,
    )


def grinding() -> FloatArray:
    """Up, down to 0.06 m/s in the sticking region, up again, and at rest."""
    t = np.arange(100) * FRAME_S
    moving = 0.2 + 0.14 * np.cos(2 * np.pi * t / 2.0)
    return np.where(t < 0.2, moving * t / 0.2, np.where(t < 3.0, moving, 0.0))


def test_a_rest_that_what_follows_contradicts_is_taken_back() -> None:
    velocity = grinding()
    wrong = {24: 0.03, 30: 0.03}  # while it grinds at 0.06 m/s
    known = stretch(velocity, wrong | {80: 0.01, 90: 0.01})
    doubted = smoothed_with_true_rests(known, np.zeros(100, dtype=np.bool_))
    assert doubted.velocity_m_s[1:] == pytest.approx(velocity, abs=0.005)
    assert doubted.velocity_m_s[[81, 91]] == pytest.approx(0.0, abs=0.003)


def test_true_rests_and_sure_ones_are_kept() -> None:
    rests = {80: 0.01, 90: 0.01}
    true = stretch(grinding(), rests)
    none_sure = np.zeros(100, dtype=np.bool_)
    assert smoothed_with_true_rests(true, none_sure).velocity_m_s == pytest.approx(smooth(true).velocity_m_s)
    wrong = stretch(grinding(), {24: 0.03})
    sure = np.ones(100, dtype=np.bool_)
    assert smoothed_with_true_rests(wrong, sure).velocity_m_s == pytest.approx(smooth(wrong).velocity_m_s)


def test_ringing_on_the_floor_starts_no_rise() -> None:
    t = np.arange(0, 2, 0.005)
    ringing = np.where(
        (t > 0.5) & (t < 0.7), 0.2 * np.sin(2 * np.pi * 40 * t) * np.exp(-(t - 0.5) / 0.1), 0.0
    )
    lift = np.where((t > 0.7) & (t < 1.5), 0.9 * np.sin(np.pi * (t - 0.7) / 0.8), 0.0)
    (run_,) = upward_runs(t, lift + ringing, P)
    movement = measure(t, lift + ringing, np.gradient(lift, t), run_, P)
    assert movement.start_time_s == pytest.approx(0.7, abs=0.02)
    assert movement.end_time_s == pytest.approx(1.5, abs=0.02)


def whipping(bounce_m_s: float, then_rises_m: float = 0.0) -> Movement:
    """A pull of 0.8 s whose bar turns back at the top and swings on, and may rise further after that."""
    t = np.arange(0, 3, 0.005)
    after = np.clip(t - 1.3, 0.0, None)
    swing = (
        -bounce_m_s * np.sin(2 * np.pi * 7 * after) * np.exp(0.7 - 4.4 * after)
    )  # half of its damping is gone
    more = np.where((t > 1.4) & (t < 1.6), then_rises_m * np.pi / 0.4 * np.sin(np.pi * (t - 1.4) / 0.2), 0.0)
    velocity = np.where(t < 1.3, 0.9 * np.sin(np.pi * np.clip(t - 0.5, 0.0, 0.8) / 0.8), swing) + more
    (run_,) = upward_runs(t, velocity, P)
    return measure(t, velocity, np.gradient(velocity, t), run_, P)


def test_a_bar_that_swings_on_at_the_top_has_arrived_there() -> None:
    for bounce_m_s in (0.05, 0.09, 0.15):
        assert whipping(bounce_m_s).end_time_s == pytest.approx(1.3, abs=0.02)


def test_one_that_rises_on_after_it_turned_back_a_little_has_not() -> None:
    assert whipping(0.05, then_rises_m=0.03).end_time_s > 1.55


def test_half_way_up_is_said_of_a_lift_under_way_beyond_doubt_only() -> None:
    squat = Judge(LIFTS["back squat"], given_range_m=0.6)
    assert squat.half_way_up(0.2, 0.3, dropped_before_m=0.6)
    assert not squat.half_way_up(0.08, 0.08, dropped_before_m=0.0)  # being taken off the rack
    assert not squat.half_way_up(-0.1, 0.3, dropped_before_m=0.6)  # perhaps still at the bottom
    assert not squat.half_way_up(0.3, 0.55, dropped_before_m=0.6)  # perhaps at the top
    assert Judge(LIFTS["deadlift"], given_range_m=0.55).half_way_up(0.2, 0.25, dropped_before_m=0.0)


def test_a_press_may_be_half_way_up_once_it_is_higher_than_hooks_are_deep() -> None:
    press = Judge(LIFTS["overhead press"], given_range_m=0.62)
    assert press.may_be_half_way_up(0.15, 0.03, dropped_before_m=0.0)
    assert not press.half_way_up(0.12, 0.18, dropped_before_m=0.0)  # not beyond doubt
    assert not press.may_be_half_way_up(0.06, 0.03, dropped_before_m=0.0)  # taken off the rack
    assert not press.may_be_half_way_up(0.60, 0.03, dropped_before_m=0.0)  # up


def test_an_athletes_first_squat_goes_as_far_up_as_it_came_down() -> None:
    squat = Judge(LIFTS["back squat"])
    assert squat.may_be_half_way_up(0.35, 0.03, dropped_before_m=0.6)
    assert not squat.may_be_half_way_up(0.35, 0.03, dropped_before_m=0.4)  # a short one: up
    given = Judge(LIFTS["back squat"], given_range_m=0.4)
    assert not given.may_be_half_way_up(0.35, 0.03, dropped_before_m=0.6)  # a known range says more


def test_an_athletes_first_deadlift_goes_about_half_as_far_as_any_may() -> None:
    deadlift = Judge(LIFTS["deadlift"])  # 0.30 to 0.85 m
    assert deadlift.may_be_half_way_up(0.35, 0.03, dropped_before_m=0.0)
    assert deadlift.may_be_half_way_up(
        0.35, 0.03, dropped_before_m=0.8
    )  # carried down to the floor: says nothing
    assert not deadlift.may_be_half_way_up(0.55, 0.03, dropped_before_m=0.0)


def turns(*stretches: tuple[float, int], stands_after: int | None = None) -> list[tuple[int, int]]:
    """Tops and bottoms with their frames, of a bar that goes at each speed (m/s) for so many frames."""
    watch, height, seen = TurnWatch(), 0.0, []
    for frame, velocity in enumerate([speed for speed, frames in stretches for _ in range(frames)]):
        height += velocity * FRAME_S
        turn = watch.follow(frame, velocity, height)
        if turn is not None:
            seen.append(turn)
        if frame == stands_after:
            watch.begins_anew()
    return seen


def test_a_top_shows_where_a_long_descent_began_and_where_a_long_rise_ended() -> None:
    seen = turns((0.0, 5), (-0.5, 20), (0.5, 20), (-0.1, 3))
    assert [which for which, _ in seen] == [TOP, BOTTOM, TOP]
    assert [frame for _, frame in seen] == pytest.approx([0, 25, 45], abs=1)


GRINDS = ((-0.5, 20), (0.3, 10), (-0.02, 5), (0.3, 20), (-0.1, 3))


def test_a_bar_that_grinds_to_a_halt_half_way_up_has_no_bottom_there() -> None:
    assert [which for which, _ in turns(*GRINDS)] == [TOP, BOTTOM, TOP]


def test_one_that_rises_after_it_stood_still_has() -> None:
    seen = turns(*GRINDS, stands_after=34)
    assert [which for which, _ in seen] == [TOP, BOTTOM, BOTTOM, TOP]
    assert seen[2][1] == pytest.approx(35, abs=1)


def test_a_top_that_is_held_unsteadily_is_told_once_and_a_higher_one_again() -> None:
    sways = ((-0.02, 3), (0.02, 3)) * 4
    assert [which for which, _ in turns((-0.5, 20), (0.5, 20), *sways)] == [TOP, BOTTOM, TOP]
    higher = turns((-0.5, 20), (0.5, 15), *sways, (0.5, 5), (-0.1, 3))
    assert [which for which, _ in higher] == [TOP, BOTTOM, TOP, TOP]


def at_rest_within(
    velocity_m_s: float,
    for_s: float,
    *,
    lost: bool = False,
    gains_m_s: float = 0.0,
    parameters: EngineParameters = P,
) -> float:
    """Sigma of the rest that is assumed of a held bar, hardly known to move at this speed, that long looks still."""
    filtered, tilt = VerticalFilter(P), TiltFilter(P)
    filtered.state[1], filtered.covariance[1, 1] = velocity_m_s, 0.1**2
    move = np.zeros((2, STATES))
    move[0, :2], move[1, 1] = (1.0, FRAME_S), 1.0
    step = VerticalStep(FRAME_S, gains_m_s, 0.0, move, 1e-6, P.wander_m)
    held = StillnessReading(Stillness.HELD, 0.1, for_s)
    return RestAssumption(parameters).sigma(held, filtered, tilt, step, 0.0, lost=lost)


def test_a_held_bar_that_rises_fast_rests_once_it_can_have_been_stopped_gently() -> None:
    assert at_rest_within(0.17, 0.3) == 0.0
    assert at_rest_within(0.17, 0.8) > 0.0
    assert at_rest_within(0.08, 0.3) > 0.0  # slow enough
    assert at_rest_within(-0.17, 0.3) > 0.0  # does not rise: its speed is wrong
    assert at_rest_within(0.17, 0.3, lost=True) > 0.0  # lost samples make it wrong, too


def test_where_no_lift_says_so_a_rest_is_doubted_by_what_the_bar_gained() -> None:
    unknown = MotionEngine("bar", None, Calibration()).parameters
    still = at_rest_within(0.02, 0.3, parameters=unknown)
    assert still == at_rest_within(0.02, 0.3)
    assert at_rest_within(0.02, 0.3, gains_m_s=0.01, parameters=unknown) == pytest.approx(
        np.hypot(still, 0.02), rel=0.01
    )
    known = MotionEngine("bar", LIFTS["back squat"], Calibration()).parameters
    assert at_rest_within(0.02, 0.3, gains_m_s=0.01, parameters=known) == pytest.approx(still)


@pytest.mark.parametrize(
    ("condition", "index"),
    [
        ("heavy, first time on the lift", 4),  # deadlift
        ("heavy, first time on the lift", 60),  # back squat
        ("heavy, first time on the lift", 81),  # front squat
        ("heavy, first time on the lift", 126),  # overhead press
        ("heavy, lift not told", 4),
        ("heavy, lift not told", 91),
        ("heavy, lift not told", 180),
    ],
)
def test_a_grinding_set_is_counted_whole_whatever_is_known_of_it(condition: str, index: int) -> None:
    """Before a range was expected, and rests doubted by what the bar gained, each of these was counted wrongly."""
    found = outcome(condition, index, DEVELOPMENT_SEEDS_FROM + 50_000)
    assert (found.missed, found.invented) == (0, 0)


@pytest.mark.parametrize("lift", ["back squat", "bench press", "deadlift"])
def test_every_grinding_rep_is_one_rep(lift: str) -> None:
    speeds = (0.24, 0.19, 0.17)
    trace = make_session_trace([PlannedSet(lift, speeds, 0.5, sticking_m_s=0.06)], seed=21)
    engine = MotionEngine("bar", LIFTS[lift], Calibration(), usual_range_m=0.5)
    events = run(engine, [as_block(trace)])
    assert [event for event in events if isinstance(event, FailedRep)] == []
    assert [rep.mean_velocity_m_s for rep in reps_of(events)] == pytest.approx(
        [rep.mean_velocity_m_s for rep in trace.truth], abs=0.03
    )


@pytest.mark.parametrize("seed", [7, 29, 48])
def test_the_first_press_that_grinds_low_down_is_one_rep(seed: int) -> None:
    """It did not come down before: its sticking region was taken for the rest after the rack."""
    plan = PlannedSet("overhead press", (0.17,), 0.62, sticking_m_s=0.075)
    trace = make_session_trace([plan], seed=seed, whip=True)
    engine = MotionEngine("bar", LIFTS["overhead press"], Calibration(), usual_range_m=0.62)
    (rep,) = reps_of(run(engine, [as_block(trace)]))
    assert rep.mean_velocity_m_s == pytest.approx(trace.truth[0].mean_velocity_m_s, abs=0.02)


@pytest.mark.parametrize("index", [32, 38])
def test_about_the_rack_a_moment_without_rising_is_a_turn_and_nothing_is_counted(index: int) -> None:
    """Without it the height drifts, and half a metre in four seconds looks like a slow rep."""
    assert reps_of(streamed(no_lift_case(index, DEVELOPMENT_SEEDS_FROM), calibrated=True)) == []
