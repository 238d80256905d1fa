"""`calibrate` over the virtual radio: six faces and six leans, what is kept, and a run that is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from filelock import FileLock
from typer.testing import CliRunner

pytest.importorskip("bumble")

from drivers.profile import shipped_profiles
from drivers.scan import SensorInRange
from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource
from simulated_sensor.trace import SensorTrace
from station.capture.kept_calibration import kept_calibration
from station.commands.app import app
from station.commands.calibration_run import keep_calibration
from station.motion import face_watch
from station.motion.calibration import Calibration
from station.store.sensor_book import SensorBook

ADDRESS = "C4:11:22:33:44:77"
RATE_HZ = 200.0
BIAS_M_S2, SCALE = np.array([0.30, -0.20, 0.15]), np.array([1.02, 0.985, 1.01])
CROSS = 0.01 * np.array([[0, 1, -1], [1, 0, 1], [-1, 1, 0]])
FACES = [sign * np.eye(3)[axis] for axis in range(3) for sign in (1.0, -1.0)]
LEANS = [np.array(up) / np.linalg.norm(up) for up in ([1, 1, 0], [-1, 0, 1.2], [0, -1.3, 1])]


@pytest.fixture(autouse=True)
def _short_rests(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(face_watch, "REST_S", 0.4)  # the sensor's clock cannot be hurried


def turned(faces: list[np.ndarray]) -> SensorTrace:
    """A sensor that rests in each of these attitudes for most of a second."""
    rng = np.random.default_rng(5)
    gain, samples = np.diag(SCALE) + CROSS, int(0.9 * RATE_HZ)
    rests = [gain @ (9.80665 * up) + BIAS_M_S2 + rng.normal(0, 0.02, (samples, 3)) for up in faces]
    acc = np.concatenate(rests)
    return SensorTrace(RATE_HZ, acc, np.zeros_like(acc))


def calibrate(trace: SensorTrace, folder: Path, *words: str) -> tuple[int, str, str]:
    with SensorProcess([(SensorSource("", "Bar sensor 7", ADDRESS), trace)]) as air:
        ours = ["calibrate", "Bar sensor 7", "--data", str(folder), "--radio", air.transport or "", *words]
        result = CliRunner().invoke(app, ours, env={"COLUMNS": "120"})
    return result.exit_code, result.stdout, result.stderr


def test_six_faces_and_six_leans_calibrate_a_sensor_and_the_rack_finds_it(tmp_path: Path) -> None:
    status, out, err = calibrate(turned(FACES + LEANS + [-lean for lean in LEANS]), tmp_path)
    assert (status, err) == (0, "")
    assert "Bar sensor 7 is calibrated" in out
    known = SensorBook(tmp_path).of(ADDRESS)
    assert known is not None
    assert known.calibrated_at is not None
    found = kept_calibration(tmp_path, ADDRESS)
    assert found is not None
    assert np.abs(found.bias_m_s2 - BIAS_M_S2).max() < 0.02
    back = np.linalg.inv(found.matrix)
    assert np.abs(back.diagonal() - SCALE).max() < 0.003
    assert np.abs(back - np.diag(back.diagonal()) - CROSS).max() < 0.002
    assert found.cross_axis_known


def test_a_sensor_that_was_never_leaned_is_not_stored_and_the_leans_are_named(tmp_path: Path) -> None:
    status, out, err = calibrate(turned(FACES), tmp_path, "--seconds", "10")
    assert status == 1
    assert "missing: x/y, x/y turned over, x/z" in out.replace("\n", " ")
    assert "x/y, x/y turned over, x/z, x/z turned over, y/z, y/z turned over" in err
    assert "Nothing was changed" in err
    known = SensorBook(tmp_path).of(ADDRESS)
    assert known is None or known.calibration is None


def test_a_run_without_all_faces_is_refused_and_changes_nothing(tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    book.calibrated(ADDRESS, "Bar sensor 7", {"kept": "before"})
    status, _, err = calibrate(turned(FACES[:4]), tmp_path, "--seconds", "10")
    assert status == 1
    assert "+z, -z" in err
    assert "Nothing was changed" in err
    known = book.of(ADDRESS)
    assert known is not None
    assert known.calibration == {"kept": "before"}
    assert kept_calibration(tmp_path, ADDRESS) is None  # what is no calibration is left out


def test_a_calibration_that_was_made_waits_for_a_book_that_another_program_holds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.store.sensor_book.LOCK_WAIT_S", 0.0)
    book = SensorBook(tmp_path)
    other = FileLock(book.path.with_suffix(".lock"))
    other.acquire()
    said: list[str] = []

    class GivesBack:
        def print(self, words: str, **_: object) -> None:
            said.append(words)
            other.release()

    console: Any = GivesBack()
    sensor = SensorInRange(ADDRESS, "Bar sensor 7", shipped_profiles()[0], -60, (), None)
    keep_calibration(book, sensor, Calibration(), console)
    assert len(said) == 1
    assert "holds" in said[0]
    assert kept_calibration(tmp_path, ADDRESS) is not None


def test_a_radio_that_is_not_there_is_said_in_a_sentence(tmp_path: Path) -> None:
    words = ["calibrate", "Bar sensor 7", "--data", str(tmp_path), "--radio", "tcp-client:127.0.0.1:1"]
    result = CliRunner().invoke(app, words)
    assert result.exit_code == 2
    assert len(result.stderr.strip().splitlines()) == 1
    assert "127.0.0.1:1" in result.stderr
