"""The `sensors` commands over the virtual radio: what is in range, whose it is, what it sends, how its link does."""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from filelock import FileLock
from rich.console import Console
from typer.testing import CliRunner

pytest.importorskip("bumble")

from drivers.link_events import LinkReport
from drivers.profile import shipped_profiles
from drivers.recording import read_recording
from drivers.scan import SensorInRange
from drivers.statistics import LinkStatistics
from simulated_sensor.process import SensorProcess
from simulated_sensor.serve import SensorSource
from station.capture.link_log import FILE_NAME, LinkLog, log_record
from station.commands.app import app
from station.commands.folders import data_folder
from station.commands.sensors_list import battery_words, sensor_rows, sensor_table
from station.store.known_sensor import KnownSensor
from station.store.sensor_book import SensorBook
from tests.radio.conftest import make_trace
from tests.radio.test_finding import lifted, still

OWN = shipped_profiles()[0]
NOON = datetime(2026, 10, 14, 12, tzinfo=UTC)
ONE, TWO = "C4:11:22:33:44:55", "C4:11:22:33:44:66"
Air = SensorProcess


@pytest.fixture(scope="module")
def air() -> Iterator[Air]:
    """Two sensors, of which the second moves."""
    one = SensorSource("", "Bar sensor 1", ONE)
    two = SensorSource("", "Bar sensor 2", TWO, serial="SIM-0002")
    with SensorProcess([(one, still(1)), (two, lifted(2))]) as process:
        yield process


def run(air: Air | None, *words: str) -> tuple[int, str, str]:
    radio = ["--radio", air.transport or ""] if air is not None else []
    result = CliRunner().invoke(app, ["sensors", *words, *radio], env={"COLUMNS": "160"})
    return result.exit_code, result.stdout, result.stderr


def test_sensors_in_range_are_listed_with_whose_they_are(air: Air, tmp_path: Path) -> None:
    book = SensorBook(tmp_path, lambda: datetime.now(UTC) - timedelta(hours=3))
    book.claim(ONE, "Bar sensor 1", "rack 1")
    book.battery(ONE, 55)
    book.claim("C4:00:00:00:00:09", "Bar sensor 9", "rack 9")
    status, out, _ = run(air, "--seconds", "2", "--data", str(tmp_path))
    assert status == 0
    lines = {
        name: line
        for name in ("Bar sensor 1", "Bar sensor 2", "Bar sensor 9")
        for line in out.splitlines()
        if name in line
    }
    assert all(text in lines["Bar sensor 1"] for text in (ONE, "-50 dBm", "55 %, 3 h ago", "rack 1"))
    assert all(text in lines["Bar sensor 2"] for text in (TWO, "unknown", "free"))
    assert all(text in lines["Bar sensor 9"] for text in ("in use, or off", "rack 9"))


def test_on_a_terminal_the_list_refreshes(air: Air, tmp_path: Path) -> None:
    words = ["sensors", "--seconds", "4", "--data", str(tmp_path), "--radio", air.transport or ""]
    shown = CliRunner().invoke(app, words, env={"COLUMNS": "160", "FORCE_COLOR": "1"}).stdout
    assert shown.count("Bar sensor 1") > 1
    once = CliRunner().invoke(app, words, env={"COLUMNS": "160", "NO_COLOR": "1"}).stdout
    assert once.count("Bar sensor 1") == 1


def test_a_level_that_is_advertised_comes_before_one_that_was_read() -> None:
    read = KnownSensor(ONE, battery_percent=80, battery_at=NOON - timedelta(days=4))
    assert battery_words(71, read, NOON) == "71 %"
    assert battery_words(None, read, NOON) == "80 %, 4 days ago"
    assert battery_words(None, None, NOON) == "unknown"


def test_a_signal_is_as_old_as_the_last_advertisement() -> None:
    one = SensorInRange(ONE, "Bar sensor 1", OWN, -61, (), None)
    other = SensorInRange(TWO, "Bar sensor 2", OWN, -75, (), None)
    rows = sensor_rows({one: 0.3, other: 7.2}, [], NOON)
    assert [row.signal for row in rows] == ["-61 dBm", "-75 dBm, 7 s ago"]


def test_a_name_with_markup_is_shown_as_it_is() -> None:
    name = "[bold red]rack[/] [link=https://x]"
    sensor = SensorInRange(ONE, name, OWN, -40, (), None)
    console = Console(width=200)
    with console.capture() as capture:
        console.print(sensor_table(sensor_rows({sensor: 0.0}, [], NOON)))
    assert name in capture.get()


def test_a_profile_is_explained_in_words(tmp_path: Path) -> None:
    file = Path("drivers/profiles/thingy52.toml")
    status, out, _ = run(None, "profile", str(file))
    assert status == 0
    assert "Packets of" in out
    assert "samples a second" in out
    (tmp_path / "bad.toml").write_text('name = "x"\nrate_hz = "fast"\n')
    status, out, err = run(None, "profile", str(tmp_path / "bad.toml"))
    assert status == 2
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "bad.toml" in err


def test_an_unknown_sensor_s_notifications_are_shown_with_length_and_rate(air: Air) -> None:
    status, out, _ = run(air, "sniff", ONE, "--seconds", "3")
    assert status == 0
    assert "serial: SIM-0001" in out
    packets = [line for line in out.splitlines() if " bytes " in line]
    assert "124 bytes" in packets[-1]
    assert "a second" in packets[-1]
    # Header and first sample in hexadecimal: the counter 0, and at rest 1 g upward is close to 2048 = 0x0800.
    payload = bytes.fromhex(packets[0].split("a second")[1])
    counter, *axes = struct.unpack("<I6h", payload[:16])
    assert (len(payload), counter) == (124, 0)
    assert abs(axes[2] - 2048) < 50
    status, _, err = run(air, "sniff", "C4:00:00:00:00:09", "--seconds", "1")
    assert status == 2
    assert "not in range" in err


def test_the_sensor_that_moves_becomes_the_rack_s(air: Air, tmp_path: Path) -> None:
    status, out, _ = run(air, "claim", "--rack", "rack 3", "--data", str(tmp_path))
    assert status == 0
    assert "Lift the bar of rack 3" in out
    assert "Bar sensor 2 belongs to rack 3 from now on" in out
    mine = SensorBook(tmp_path).claimed_by("rack 3")
    assert mine is not None
    assert mine.address == TWO


def test_another_rack_s_sensor_is_taken_over_only_when_asked_for(air: Air, tmp_path: Path) -> None:
    book = SensorBook(tmp_path)
    book.claim(ONE, "Bar sensor 1", "rack 1")
    status, _, err = run(air, "claim", "bar sensor 1", "--rack", "rack 2", "--data", str(tmp_path))
    assert status == 2
    assert "Bar sensor 1 belongs to rack 1" in err
    status, out, _ = run(air, "claim", ONE, "--rack", "rack 2", "--take-over", "--data", str(tmp_path))
    assert status == 0
    assert "rack 1 has none" in out
    assert book.claimed_by("rack 2") is not None


def test_a_book_that_another_program_holds_is_said_with_its_file_and_not_as_the_radio_s(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.store.sensor_book.LOCK_WAIT_S", 0.0)
    book = SensorBook(tmp_path)
    book.claim(ONE, "Bar sensor 1", "rack 1")
    lock = book.path.with_suffix(".lock")
    with FileLock(lock):
        status, _, err = run(None, "claim", ONE, "--rack", "rack 1", "--data", str(tmp_path))
    assert status == 2
    assert f"another program of the station holds {lock}" in err
    assert "Bluetooth" not in err


def test_a_link_s_diagnostics_come_as_lines_of_json(air: Air) -> None:
    status, out, _ = run(air, "log", "Bar sensor 1", "--format", "jsonl", "--seconds", "6")
    assert status == 0
    lines = [json.loads(line) for line in out.splitlines()]
    assert "receiving" in [line.get("state") for line in lines]
    report = [line for line in lines if line["event"] == "report"][-1]
    assert report["received_samples"] > 0
    assert report["battery_percent"] == 87
    assert datetime.fromisoformat(report["streaming_since"]) < datetime.fromisoformat(report["at"])
    keys = ("lost_samples", "duplicate_packets", "reordered_packets", "malformed_packets", "reconnects")
    assert [report[key] for key in keys] == [0] * 5
    assert {"packet_rate_hz", "jitter_s", "signal_dbm"} <= set(report)


def test_the_view_of_a_link_shows_every_count_and_refreshes(tmp_path: Path) -> None:
    log = LinkLog(data_folder(tmp_path, "rack 1"))
    counts = LinkStatistics(packets=9001, samples=9002, lost_samples=9003, duplicates=9004, reordered=9005)
    counts = replace(counts, malformed=9006)
    report = LinkReport(counts, 19.97, 0.0123, -61, 42.0, 87, 9007, 100.0, 160.0)
    record = log_record(report, "Bar sensor 1", ONE, NOON)
    assert record is not None
    log.write({"rack": "rack 1"} | record)
    log.close()
    words = ["sensors", "log", "--data", str(tmp_path), "--seconds", "2"]
    shown = CliRunner().invoke(app, words, env={"COLUMNS": "220", "FORCE_COLOR": "1"}).stdout
    for figure in ("rack 1", "Bar sensor 1", *(str(9000 + n) for n in range(1, 8)), "19.97", "0.0123", "87"):
        assert figure in shown
    assert "-61, 42 s ago" in shown
    assert "2026-10-14T11:59:00" in shown  # a minute before noon
    assert shown.count("Bar sensor 1") > 1


def test_what_racks_wrote_about_their_links_is_read_back(tmp_path: Path) -> None:
    status, _, err = run(None, "log", "--data", str(tmp_path))
    assert status == 1
    assert "no rack" in err
    log = LinkLog(data_folder(tmp_path, "rack 1"))
    for lost in (0, 7):
        log.write({"rack": "rack 1", "event": "report", "sensor": "Bar [b]1[/b]", "lost_samples": lost})
    log.close()
    with (data_folder(tmp_path, "rack 1") / FILE_NAME).open("a") as file:
        file.write('{"rack": "rack 1", "ev')  # a power cut
    status, out, _ = run(None, "log", "--data", str(tmp_path))
    assert status == 0
    assert "Bar [b]1[/b]" in out
    status, out, _ = run(None, "log", "--data", str(tmp_path), "--format", "jsonl")
    assert [json.loads(line)["lost_samples"] for line in out.splitlines()] == [0, 7]


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_what_is_received_is_recorded_and_played_back_bit_by_bit(tmp_path: Path, suffix: str) -> None:
    trace = make_trace()
    file = tmp_path / f"set{suffix}"
    with SensorProcess([(SensorSource("", "Bar sensor 1"), trace)]) as process:
        status, out, _ = run(process, "record", str(file), "--seconds", "3")
    assert status == 0
    recorded = read_recording(file)
    assert f"{len(recorded)} samples" in out
    assert np.allclose(recorded.acc_m_s2, trace.acc_m_s2[recorded.seq], rtol=0, atol=1e-9)
    again = tmp_path / f"again{suffix}"
    with SensorProcess([SensorSource(str(file), "Bar sensor 1")]) as process:
        status, out, _ = run(process, "record", str(again), "--seconds", "3")
    assert status == 0
    played = read_recording(again)
    n = min(len(played), len(recorded))
    assert n > 100
    assert np.array_equal(played.acc_m_s2[:n], recorded.acc_m_s2[:n])
    assert recorded.gyr_rad_s is not None
    assert played.gyr_rad_s is not None
    assert np.array_equal(played.gyr_rad_s[:n], recorded.gyr_rad_s[:n])
    assert np.array_equal(np.diff(played.seq[:n]), np.diff(recorded.seq[:n]))


def test_recording_never_overwrites_and_knows_its_formats(air: Air, tmp_path: Path) -> None:
    (tmp_path / "set.csv").write_text("mine")
    for name, words in (("set.csv", "is there already"), ("set.txt", "a .csv or a .parquet")):
        status, _, err = run(air, "record", str(tmp_path / name))
        assert status == 2
        assert words in err
    status, _, err = run(air, "record", str(tmp_path / "two.csv"))
    assert status == 2
    assert "say which one" in err
    assert (tmp_path / "set.csv").read_text() == "mine"
    assert not (tmp_path / "two.csv").exists()


def test_a_radio_that_is_not_there_is_said_in_one_sentence(tmp_path: Path) -> None:
    result = CliRunner().invoke(
        app, ["sensors", "--radio", "tcp-client:127.0.0.1:9", "--data", str(tmp_path)]
    )
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert "cannot be opened" in result.stderr
