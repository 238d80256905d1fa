import json
from pathlib import Path

import numpy as np
import pytest
import typer
from typer.testing import CliRunner, Result

from drivers.recording import write_recording
from drivers.samples import SampleBlock
from simulated_sensor.arrivals import arrived
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_set_trace
from station.commands.replay import register
from station.squad.lifts import LIFTS

REP_KEYS = {
    *("file", "event", "number", "start_time_s", "end_time_s", "mean_velocity_m_s"),
    *("mean_propulsive_velocity_m_s", "peak_velocity_m_s", "displacement_m", "duration_s"),
    *("decided_time_s", "uncertainty_m_s", "flags"),
}


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    trace = make_set_trace(PlannedSet("deadlift", (0.7, 0.5), 0.5), seed=8)
    path = tmp_path_factory.mktemp("recordings") / "set.csv"
    write_recording(path, arrived(trace, np.random.default_rng(1)))
    return path


def _run(*arguments: str) -> Result:
    app = typer.Typer()
    register(app)
    return CliRunner().invoke(app, [*arguments])


def test_reps_come_as_json_lines_with_units_in_their_keys(recording: Path) -> None:
    result = _run(str(recording), "--placement", "bar", "--lift", "deadlift")
    assert result.exit_code == 0
    lines = [json.loads(line) for line in result.stdout.splitlines()]
    reps = [line for line in lines if line["event"] == "rep"]
    assert [set(rep) for rep in reps] == [REP_KEYS] * 2
    assert [rep["number"] for rep in reps] == [1, 2]
    assert all(rep["file"] == str(recording) for rep in reps)
    assert lines[-1]["event"] == "set_end"
    assert lines[-1]["reps"] == 2


def test_the_table_is_for_reading(recording: Path) -> None:
    result = _run(str(recording), "--placement", "bar", "--format", "table")
    assert "rep 1" in result.stdout
    assert "set over: 2 reps" in result.stdout


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda text: text.replace("acc_x_m_s2", "acc_q"), "acc_x_m_s2"),
        (lambda text: text.replace("\n40,", "\nforty,"), "line 42"),
        (lambda text: text.splitlines()[0] + "\n", "no samples"),
        (lambda _: "", ""),
    ],
    ids=["missing column", "text for a number", "no samples", "empty"],
)
def test_a_bad_file_gets_one_line_and_nothing_is_printed(
    recording: Path, tmp_path: Path, spoil, said: str
) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text(spoil(recording.read_text()))
    result = _run(str(recording), str(bad), "--placement", "bar")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert len(result.stderr.splitlines()) == 1
    assert "bad.csv" in result.stderr
    assert said in result.stderr


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    result = _run(str(tmp_path / "none.csv"), "--placement", "bar")
    assert result.exit_code == 2
    assert "none.csv" in result.stderr


def test_an_unknown_lift_is_refused_with_the_list(recording: Path) -> None:
    result = _run(str(recording), "--placement", "bar", "--lift", "curl")
    assert result.exit_code == 2
    assert all(name in result.stderr for name in LIFTS)


def test_a_recording_of_one_packet_cannot_be_timed(tmp_path: Path) -> None:
    path = tmp_path / "short.csv"
    write_recording(path, SampleBlock(np.arange(5), np.full(5, 0.1), np.full((5, 3), 5.0)))
    result = _run(str(path), "--placement", "bar")
    assert result.exit_code == 2
    assert "short.csv" in result.stderr
