"""Bars and plates from a file, target speeds of a squad, and files that start the station with the machine."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from datetime import UTC, datetime
from pathlib import Path

import pytest

from station.capture.rack_setup import setup_from_record
from station.commands.autostart import systemd_unit, windows_task, write_autostart
from station.commands.folders import data_folder
from station.store.record import Record
from tests.commands.test_commands import run

TASKS = "{http://schemas.microsoft.com/windows/2004/02/mit/task}"


def record_of(data: Path) -> Record:
    return Record(data_folder(data, "rack 1"), "rack 1", lambda: datetime(2026, 10, 14, tzinfo=UTC))


def test_bars_and_plates_are_written_down_as_weighed(tmp_path: Path) -> None:
    file = tmp_path / "rack.csv"
    file.write_text(
        "kind,label,weighed_kg,pairs\nbar,competition bar,20.05,\nplate,20,19.6,2\nplate,10,9.9,1\n"
        "plate,5,9.0,1\nkettle,5,5,1\nplate,five,5,1\n"
    )
    status, out, err = run("equipment", str(file), "--data", str(tmp_path / "data"))
    assert status == 0
    assert "3 bars and plates written down, 3 rows left out" in out
    assert "line 5: a plate of 5 kg does not weigh 9 kg" in err
    assert "line 6: kind 'kettle' is neither bar nor plate" in err
    record = record_of(tmp_path / "data")
    setup = setup_from_record(record)
    record.close()
    assert setup.bars == (("competition bar", 20.05),)
    assert setup.plates.weighed == ((20.0, 19.6), (10.0, 9.9))


def test_a_file_without_its_columns_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "rack.csv"
    file.write_text("what,weight\nbar,20\n")
    status, _, err = run("equipment", str(file), "--data", str(tmp_path / "data"))
    assert status == 2
    assert "column kind, label, weighed_kg is missing" in err


def test_a_squad_brings_its_target_speeds(tmp_path: Path) -> None:
    file = tmp_path / "squad.csv"
    heads = "name,rack,lift,warmup_load_kg,planned_load_kg,target_low_m_s,target_high_m_s,velocity_at_1rm_m_s"
    file.write_text(
        f"{heads}\nAino,rack 1,back squat,60,95,0.45,0.55,0.31\nBela,rack 1,back squat,60,95,0.6,,\n"
    )
    status, out, err = run("squad", str(file), "--data", str(tmp_path / "data"))
    assert status == 0
    assert "1 athletes added, 1 rows left out" in out
    assert "line 3: a target band needs" in err
    record = record_of(tmp_path / "data")
    (plan,) = setup_from_record(record).plans.values()
    record.close()
    assert plan.target_band_m_s == (0.45, 0.55)
    assert plan.own_velocity_at_1rm_m_s == 0.31


def test_the_unit_starts_this_rack_full_screen() -> None:
    unit = systemd_unit("rack 50 %", Path("/opt/bar speed/bin/python"), Path("/opt/bar speed"))
    (line,) = [row for row in unit.splitlines() if row.startswith("ExecStart=")]
    words = shlex.split(line.removeprefix("ExecStart="))
    assert words[:4] == ["/opt/bar speed/bin/python", "-m", "station", "rack"]
    assert words[4:] == ["--rack", "rack 50 %%", "--full-screen"]


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd-analyze here")
def test_systemd_itself_finds_nothing_wrong_with_the_unit(tmp_path: Path) -> None:
    file, next_step = write_autostart("rack 1", tmp_path / "bar-speed-station.service", tmp_path, "linux")
    made = subprocess.run(
        ["systemd-analyze", "verify", "--user", str(file)], capture_output=True, text=True, timeout=30
    )
    about_it = [line for line in made.stderr.splitlines() if file.name in line]
    assert about_it == []
    assert "enable --now bar-speed-station.service" in next_step


def test_the_task_is_xml_that_starts_this_rack(tmp_path: Path) -> None:
    file, next_step = write_autostart("rack 1 & 2", tmp_path / "task.xml", tmp_path, "win32")
    task = ElementTree.fromstring(file.read_text(encoding="utf-16"))
    arguments = task.find(f"{TASKS}Actions/{TASKS}Exec/{TASKS}Arguments")
    assert arguments is not None
    assert arguments.text == '-m station rack --rack "rack 1 & 2" --full-screen'
    assert task.find(f"{TASKS}Triggers/{TASKS}LogonTrigger") is not None
    assert "schtasks /create" in next_step
    assert "rack 1 &amp; 2" in windows_task("rack 1 & 2", Path("python.exe"), tmp_path)


def test_autostart_says_what_to_run(tmp_path: Path) -> None:
    file = tmp_path / "unit.service"
    status, out, _ = run("autostart", "--rack", "rack 1", "--file", str(file))
    assert status == 0
    assert file.exists()
    assert "now run: " in out
