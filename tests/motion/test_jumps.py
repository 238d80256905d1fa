"""Jumps: simulated belts with exact truth, force plates, and what is no jump. Sources: tests/data/README.md."""

import numpy as np
import pytest

from drivers.samples import TimedBlock
from simulated_sensor.jumps import PlannedJump, make_jump_trace
from station.motion.engine import MotionEngine
from station.motion.events import JumpMeasured, Trouble
from tests.motion.recordings import DATA, columns_of, phone
from tests.motion.streams import as_block, in_blocks, run


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
