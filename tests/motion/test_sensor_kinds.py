"""Sensors and links of every kind that may come: rates of 50 to 400 Hz, ranges of 4 and 8 g, packets of 1 to 20."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from simulated_sensor.arrivals import arrived
from simulated_sensor.imu_errors import bench_calibrated_sensor
from simulated_sensor.planned_set import typical_set
from simulated_sensor.sessions import make_set_trace
from tests.validation.outcome import compare
from tests.validation.scenarios import Case


@pytest.mark.parametrize(
    ("rate_hz", "range_g", "bits", "per_packet"),
    [
        (50.0, 16.0, 16, 5),
        (400.0, 16.0, 16, 20),
        (200.0, 4.0, 16, 10),
        (200.0, 8.0, 16, 10),
        (200.0, 4.0, 12, 10),
        (200.0, 16.0, 16, 1),
        (200.0, 16.0, 16, 20),
    ],
    ids=["50 Hz", "400 Hz", "4 g", "8 g", "12 bits", "packets of 1", "packets of 20"],
)
@pytest.mark.parametrize("lift", ["back squat", "deadlift"])
def test_every_kind_of_sensor_gives_its_reps(
    lift: str, rate_hz: float, range_g: float, bits: int, per_packet: int
) -> None:
    rng = np.random.default_rng(21)
    plan = typical_set(lift, (0.8, 0.6, 0.45), rng)
    sensor = replace(bench_calibrated_sensor(rng, nominal_rate_hz=rate_hz, range_g=range_g), bits=bits)
    trace = make_set_trace(plan, seed=22, sensor=sensor)
    block = arrived(trace, rng, per_packet=per_packet)
    found = compare([Case(lift, plan.range_of_motion_m, trace, block, rate_hz, range_g * 9.80665)])
    assert (found.true, found.missed, found.invented, found.not_measured) == (3, 0, 0, 0)
    assert np.abs(found.column(0)).max() < (0.015 if rate_hz >= 200 else 0.03)


def test_a_link_that_loses_a_fifth_loses_it_in_bursts_and_states_what_it_kept() -> None:
    rng = np.random.default_rng(23)
    trace = make_set_trace(typical_set("bench press", (0.8, 0.6) * 4, rng), seed=24)
    block = arrived(trace, rng, lost_share=0.2)
    lost = 1 - len(block) / len(trace)
    holes = np.diff(block.seq)[np.diff(block.seq) > 1] - 1
    assert 0.1 < lost < 0.3
    assert holes.mean() > 20  # packets of ten, three in a burst
    assert (np.diff(block.host_time_s) >= 0).all()
