"""A real recording goes the whole way: sensor process, Bluetooth LE, decoder, clock, engine, record.

BROAD data set, trial 14 (Laidig et al., Data 2021;6(7):72, doi 10.3390/data6070072, CC BY 4.0): a six-axis sensor
moved up and down by hand beside optical motion capture.
"""

from __future__ import annotations

import csv
import threading
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource
from station.capture.link_source import SensorChoice, listen_to_sensor
from station.capture.rack import Rack
from station.capture.rack_threads import RackThreads
from station.capture.rack_view import LiveTrace, RackView
from station.commands.rack_command import local_day, open_rack, utc_now
from station.store.record import Record
from station.store.rows import RepRow
from tests.reps_since import reps_since

DATA = Path(__file__).resolve().parents[1] / "data" / "hand_translation"
RECORDING_S = 74.0
OVER_M = 0.20
NEAR_S = 0.4


@dataclass(frozen=True)
class Stroke:
    """One upward movement by optical motion capture."""

    start_time_s: float
    displacement_m: float
    mean_velocity_m_s: float


def strokes() -> list[Stroke]:
    with (DATA / "slow_strokes.csv").open() as file:
        rows = list(csv.DictReader(file))
    columns = ("start_time_s", "displacement_m", "mean_velocity_m_s")
    return [Stroke(*(float(row[c]) for c in columns)) for row in rows]


def play_over_the_radio(folder: Path) -> list[RepRow]:
    """Play the recording at an empty rack and read the reps out of its record."""
    racks: list[Rack] = []
    day = local_day()
    played = threading.Event()

    with SensorProcess([SensorSource(str(DATA / "slow.parquet"))]) as process:
        threads: RackThreads

        def wake() -> None:
            for item in threads.drain():
                if isinstance(item, LiveTrace) and len(item.time_s) and item.time_s[-1] > RECORDING_S:
                    played.set()

        def make(show: object) -> Rack:
            record = Record(folder, "rack 1", utc_now)
            racks.append(open_rack(record, show, any_lift=True))  # type: ignore[arg-type]
            return racks[-1]

        source = partial(listen_to_sensor, SensorChoice("Bar sensor 1", transport=process.transport))
        threads = RackThreads(make, source, wake)
        threads.start()
        try:
            assert played.wait(RECORDING_S * 2)
        finally:
            threads.stop()
        assert threads.faults == []
        assert threads.dropped_blocks == 0
    record = Record(folder, "rack 1", utc_now)
    reps = [rep for of_set in reps_since(record, day) for rep in of_set]
    record.close()
    return reps


@pytest.mark.timeout(240)
def test_the_strokes_of_a_real_sensor_are_found_with_their_speed(tmp_path: Path) -> None:
    reps = [r for r in play_over_the_radio(tmp_path / "rack-1") if r.mean_velocity_m_s is not None]
    large = [s for s in strokes() if s.displacement_m > OVER_M]
    assert len(large) == 11
    errors = []
    for stroke in large:
        (found,) = (r for r in reps if abs(r.start_time_s - stroke.start_time_s) < NEAR_S)
        assert found.mean_velocity_m_s is not None
        errors.append(found.mean_velocity_m_s - stroke.mean_velocity_m_s)
    assert np.count_nonzero(np.abs(errors) <= 0.03) >= 9
    unmatched = [r for r in reps if all(abs(r.start_time_s - s.start_time_s) >= NEAR_S for s in strokes())]
    assert not [r for r in unmatched if r.displacement_m is not None and r.displacement_m > OVER_M]


def test_a_view_is_complete_without_a_group(tmp_path: Path) -> None:
    record = Record(tmp_path / "rack-1", "rack 1", utc_now)
    views: list[RackView] = []
    rack = open_rack(record, lambda item: views.append(item) if isinstance(item, RackView) else None)
    rack.close()
    record.close()
    assert views[-1].athlete is None
    assert views[-1].group == ()
