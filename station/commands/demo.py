"""The demo: the real program with one thing exchanged, the radio. The only part of the station that simulates."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from rich.console import Console

from drivers.recording import read_recording
from simulated_sensor.club import make_club
from simulated_sensor.imu_errors import SensorErrors, bench_calibrated_sensor
from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace
from station.capture.link_source import SensorChoice, listen_to_sensor
from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.commands.demo_club import DATA_NOTE, SENSOR_NAME, bar_program, fill_record
from station.commands.rack_command import local_day, open_rack, utc_now
from station.commands.rack_program import Look, run_rack
from station.store.record import Record

RACK = "rack 1"
# A recording is nobody's set: it plays at a rack without a group, so that no athlete's usual range judges it.
RECORDING_RACK = "recording"
WORK_ROUNDS = 3
# Between two sets the bar stays in the rack so long: time for a newcomer to look and touch.
REST_WITH_A_DISPLAY_S = 15.0
REST_WITHOUT_S = 2.0
SEED = 20


def run_demo(look: Look, recording: Path | None = None) -> int:
    """Run the station against the simulated sensor; how many reps were painted.

    Args:
        recording: a recorded sensor file to play instead of the simulated lifts.

    Raises:
        RecordingError: the file cannot be read; nothing was started.
    """
    if recording is not None:
        read_recording(recording)  # a bad file is said before anything starts
    with TemporaryDirectory(prefix="bar-speed-demo-", ignore_cleanup_errors=True) as folder:
        with Console(emoji=False, stderr=True).status(
            "Putting an invented squad and a simulated sensor together"
        ):
            sensor = _sensor(look, recording)
            process = SensorProcess([sensor])
            process.start()
        try:
            choice = SensorChoice(SENSOR_NAME, transport=process.transport)
            # A folder inside: a rack takes over from records beside its own, and the demo has no neighbours.
            make_rack = partial(_rack, Path(folder) / "club" / "rack", RECORDING_RACK if recording else RACK)
            return run_rack(make_rack, partial(listen_to_sensor, choice), look)
        finally:
            process.stop()


def _sensor(look: Look, recording: Path | None) -> SensorSource | tuple[SensorSource, SensorTrace]:
    if recording is not None:
        return SensorSource(str(recording), SENSOR_NAME)
    rest_s = REST_WITH_A_DISPLAY_S if look.headless_s is None else REST_WITHOUT_S
    sets = bar_program(make_club(local_day()), rack=1, rounds=WORK_ROUNDS)
    sensor = _well_calibrated(bench_calibrated_sensor(np.random.default_rng(SEED)))
    return SensorSource("", SENSOR_NAME), make_session_trace(
        sets, seed=SEED, rest_between_s=rest_s, sensor=sensor
    )


def _well_calibrated(sensor: SensorErrors) -> SensorErrors:
    """The same sensor with a tenth of its bias, so that it reads gravity at rest as a calibrated one does."""
    return replace(sensor, acc_bias_m_s2=sensor.acc_bias_m_s2 / 10)


def recording_length_s(recording: Path) -> float:
    """How long a recording plays, by its arrival times, s."""
    arrival_s = read_recording(recording).host_time_s
    return float(arrival_s[-1] - arrival_s[0])


def _rack(folder: Path, rack: str, show: Show) -> Rack:
    """A rack whose record holds the invented club and its twelve weeks."""
    record = Record(folder, rack, utc_now)
    fill_record(record, make_club(local_day()))
    return open_rack(record, show, DATA_NOTE, any_lift=rack == RECORDING_RACK)
