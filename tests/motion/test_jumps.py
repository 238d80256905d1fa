"""Jumps: simulated belts with exact truth, force plates, and what is no jump. Sources: tests/data/README.md."""

import numpy as np
import pytest

from drivers.samples import TimedBlock
from simulated_sensor.imu_errors import bench_calibrated_sensor, ideal_sensor
from simulated_sensor.jump_path import BeltFit, PlannedJump, TrueJump
from simulated_sensor.jumps import (
    TIGHT,
    make_handling_trace,
    make_hops_trace,
    make_jump_trace,
    make_steps_trace,
)
from simulated_sensor.trace import SensorTrace
from station.motion.engine import MotionEngine
from station.motion.events import JumpMeasured, Trouble
from tests.motion.recordings import DATA, columns_of, phone
from tests.motion.streams import as_block, in_blocks, run

# Group delay of the simulated sensors' second-order Butterworth at 0.4 of the rate: sqrt(2) / (2 pi 0.4).
LOW_PASS_DELAY_SAMPLES = 0.5627


def _jumps(blocks: list[TimedBlock]) -> list[JumpMeasured]:
    events = run(MotionEngine("belt"), blocks)
    return [event for event in events if isinstance(event, JumpMeasured)]


def _force_plate(name: str, start_s: float = 0.0) -> TimedBlock:
    """What an accelerometer at the centre of mass would read: force over mass, along one axis."""
    table = columns_of(DATA / f"{name}.parquet")
    force = table["force_n"] if "force_n" in table else table["force_right_n"] + table["force_left_n"]
    time = table["time_s"]
    force, time = force[time >= start_s], time[time >= start_s]
    acc = np.zeros((len(time), 3))
    acc[:, 2] = force / np.median(force[force > 100]) * 9.80665
    return TimedBlock(time - time[0], np.arange(len(time)), acc)


@pytest.mark.parametrize("height_m", [0.15, 0.3, 0.45, 0.6])
def test_a_simulated_jump_is_measured_to_a_centimetre(height_m: float) -> None:
    plans = [PlannedJump(height_m, landing_above_m=0.02), PlannedJump(height_m, 0.2, pitch_deg=15.0)]
    trace, truth = make_jump_trace(plans, seed=int(100 * height_m))
    found = _jumps([as_block(trace)])
    assert len(found) == len(truth) == 2
    for jump, true in zip(found, truth, strict=True):
        assert jump.jump_height_m == pytest.approx(true.height_m, abs=0.01)
        assert jump.takeoff_time_s == pytest.approx(true.takeoff_time_s, abs=0.015)
        assert jump.landing_time_s == pytest.approx(true.landing_time_s, abs=0.02)
        assert jump.decided_time_s - true.landing_time_s < 3.0


def _trial(fit: BeltFit = TIGHT, seed: int = 8, **plan: object) -> JumpMeasured:
    """One jump of 0.35 m as planned."""
    trace, _ = make_jump_trace([PlannedJump(0.35, **plan)], seed=seed, fit=fit)
    (jump,) = _jumps([as_block(trace)])
    return jump


def _many(has_gyro: bool = True, **fit: float) -> list[tuple[SensorTrace, tuple[TrueJump, ...]]]:
    """Twenty-four jumps of 0.15 to 0.60 m, trunk pitch 20 to 40 degrees, landings 3 cm higher or lower."""
    made = []
    for n in range(6):
        rng = np.random.default_rng([77, n])
        plans = [
            PlannedJump(
                rng.uniform(0.15, 0.60), rng.uniform(0.2, 0.4), rng.uniform(-0.03, 0.03), rng.uniform(20, 40)
            )
            for _ in range(4)
        ]
        sensor = bench_calibrated_sensor(rng, has_gyro=has_gyro)
        made.append(make_jump_trace(plans, seed=7700 + n, sensor=sensor, fit=BeltFit(**fit)))
    return made


@pytest.mark.parametrize(
    ("has_gyro", "fit"),
    [
        (True, {}),
        (True, {"soft_tissue_m_s2": 20.0}),
        (True, {"slide_m": 0.01, "slide_deg": 3.0}),
        (False, {}),
    ],
    ids=["belt", "much ringing", "sliding belt", "no gyro"],
)
def test_none_is_missed_none_invented_and_the_spread_is_within_a_centimetre(
    has_gyro: bool, fit: dict[str, float]
) -> None:
    errors = []
    for trace, truth in _many(has_gyro, **fit):
        found = _jumps([as_block(trace)])
        assert len(found) == len(truth)
        errors += [j.jump_height_m - t.height_m for j, t in zip(found, truth, strict=True)]
    assert np.std(errors) <= 0.010
    assert abs(np.mean(errors)) <= 0.005


def test_a_landing_beyond_the_sensors_range_is_flagged_and_the_height_holds() -> None:
    rng = np.random.default_rng(3)
    sensor = bench_calibrated_sensor(rng, range_g=3.0)
    trace, truth = make_jump_trace([PlannedJump(0.45)] * 3, seed=12, sensor=sensor, fit=BeltFit(20.0))
    engine = MotionEngine("belt", range_m_s2=3.0 * 9.80665)
    found = [e for e in run(engine, [as_block(trace)]) if isinstance(e, JumpMeasured)]
    assert len(found) == 3
    assert any("clipped" in jump.flags for jump in found)
    for jump, true in zip(found, truth, strict=True):
        assert jump.jump_height_m == pytest.approx(true.height_m, abs=0.02)


def test_tucked_knees_lengthen_the_flight_and_are_flagged() -> None:
    jump = _trial(landing_above_m=-0.12)
    assert jump.flags == ("heights disagree", "tucked")
    assert jump.height_from_flight_m > jump.height_from_impulse_m + 0.045


def test_swinging_arms_are_flagged_and_ringing_is_not_taken_for_them() -> None:
    assert "arm swing" in _trial(arm_swing_m_s2=2.5).flags
    assert "arm swing" not in _trial(BeltFit(soft_tissue_m_s2=20.0)).flags


def test_two_dips_are_flagged() -> None:
    assert _trial(double_dip=True).flags == ("double dip",)


def test_a_rebound_out_of_the_landing_is_no_second_jump() -> None:
    assert _trial(rebound_m=0.10).jump_height_m == pytest.approx(0.35, abs=0.015)


def test_steps_instead_of_jumps_give_nothing() -> None:
    for seed in range(3):
        assert _jumps([as_block(make_steps_trace(seed=seed))]) == []


@pytest.mark.parametrize("height_m", [0.06, 0.15])
@pytest.mark.parametrize("has_gyro", [True, False], ids=["gyro", "no gyro"])
def test_hopping_about_gives_nothing(height_m: float, has_gyro: bool) -> None:
    sensor = bench_calibrated_sensor(np.random.default_rng(6), has_gyro=has_gyro)
    assert _jumps([as_block(make_hops_trace(seed=6, height_m=height_m, sensor=sensor))]) == []


@pytest.mark.parametrize("has_gyro", [True, False], ids=["gyro", "no gyro"])
def test_putting_the_belt_on_gives_nothing(has_gyro: bool) -> None:
    sensor = bench_calibrated_sensor(np.random.default_rng(6), has_gyro=has_gyro)
    assert _jumps([as_block(make_handling_trace(seed=6, sensor=sensor))]) == []


def test_a_low_jump_without_a_gyro_is_no_fall() -> None:
    """A trunk pitched by 39 degrees takes a part of the push from the causal filter: 0.98 m/s were left of 1.77."""
    sensor = bench_calibrated_sensor(np.random.default_rng(300131), has_gyro=False)
    low = PlannedJump(0.16, 0.3367, landing_above_m=0.029, pitch_deg=39.2)
    trace, truth = make_jump_trace([low] * 4, seed=300131, sensor=sensor, fit=BeltFit(11.96))
    assert len(_jumps([as_block(trace)])) == len(truth)


def test_a_slow_sensor_puts_the_take_off_no_later_than_a_fast_one() -> None:
    """Its own low-pass (half a sample and more) is in both: what is left is how the flanks are read."""
    late_s = {}
    for rate_hz in (100.0, 400.0):
        trace, truth = make_jump_trace([PlannedJump(0.35)] * 4, seed=3, sensor=ideal_sensor(rate_hz))
        found = _jumps([as_block(trace)])
        off = [j.takeoff_time_s - t.takeoff_time_s for j, t in zip(found, truth, strict=True)]
        late_s[rate_hz] = np.mean(off) - LOW_PASS_DELAY_SAMPLES / rate_hz
    assert late_s[100.0] <= late_s[400.0] + 0.0005


def test_depth_and_time_to_takeoff_are_those_of_the_movement() -> None:
    jump = _trial()
    assert jump.countermovement_depth_m == pytest.approx(0.30, abs=0.015)
    assert jump.time_to_takeoff_s is not None
    assert 0.6 < jump.time_to_takeoff_s < 1.1


@pytest.mark.parametrize(
    ("flight_s", "height_m"),
    # g t^2 / 8 with g = 9.80665: exact to the digits given
    [(0.400, 0.1961), (0.450, 0.2482), (0.500, 0.3065), (0.550, 0.3708), (0.600, 0.4413), (0.650, 0.5179)],
)
def test_flight_time_and_takeoff_velocity_give_the_same_height(flight_s: float, height_m: float) -> None:
    g = 9.80665
    takeoff_m_s = g * flight_s / 2
    assert g * flight_s**2 / 8 == pytest.approx(height_m, abs=5e-5)
    assert takeoff_m_s**2 / (2 * g) == pytest.approx(height_m, abs=5e-5)
    _, truth = make_jump_trace([PlannedJump(height_m)], seed=1)
    assert truth[0].landing_time_s - truth[0].takeoff_time_s == pytest.approx(flight_s, abs=0.001)


def test_flight_height_is_g_t_squared_over_eight() -> None:
    trace, _ = make_jump_trace([PlannedJump(0.35)], seed=2)
    (jump,) = _jumps([as_block(trace)])
    assert jump.height_from_flight_m == pytest.approx(9.80665 * jump.flight_time_s**2 / 8, abs=1e-9)


def test_landing_high_shows_as_heights_that_disagree() -> None:
    trace, _ = make_jump_trace([PlannedJump(0.35, landing_above_m=0.15)], seed=2)
    (jump,) = _jumps([as_block(trace)])
    assert "heights disagree" in jump.flags


def test_blocks_of_any_size_give_the_same_jumps() -> None:
    trace, _ = make_jump_trace([PlannedJump(0.3)], seed=5)
    assert _jumps(in_blocks(as_block(trace), 13)) == _jumps([as_block(trace)])


@pytest.mark.parametrize(
    ("name", "start_s", "flight_m", "impulse_m"),
    [
        # Duarte & Watanabe, doi 10.5281/zenodo.4599319: heights by the course's own method on its data
        ("vertical_jump_force/jump_600hz", 0.0, 0.221, 0.235),
        ("vertical_jump_force/jump_450hz", 1.4, 0.372, 0.356),
    ],
)
def test_force_plate_jumps_agree_with_their_source(
    name: str, start_s: float, flight_m: float, impulse_m: float
) -> None:
    jump = _jumps([_force_plate(name, start_s)])[0]
    assert jump.height_from_flight_m == pytest.approx(flight_m, abs=0.01)
    assert jump.height_from_impulse_m == pytest.approx(impulse_m, abs=0.02)


@pytest.mark.parametrize("subject", ["003", "010", "011", "013"])
def test_flight_and_impulse_agree_on_small_jumps_of_four_people(subject: str) -> None:
    found = _jumps([_force_plate(f"squat_jump_force/subject_{subject}")])
    assert 2 <= len(found) <= 3
    for jump in found:
        # they do not stand quite still before, so an integral from stance is only this good
        assert jump.height_from_flight_m == pytest.approx(jump.height_from_impulse_m, abs=0.02)


@pytest.mark.parametrize("name", ["drop_1", "drop_2", "drop_3"])
def test_a_dropped_phone_fell_and_did_not_jump(name: str) -> None:
    assert _jumps([phone(name)]) == []
    troubles = [e for e in run(MotionEngine("bar"), [phone(name)]) if isinstance(e, Trouble)]
    assert [trouble.kind for trouble in troubles] == ["sensor_fell"]


def test_a_phone_at_rest_gives_nothing() -> None:
    assert run(MotionEngine("bar"), [phone("static")]) == []
