"""The command line: help like a manual, bad input answered in one sentence with exit status 2, nothing half-done."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from station.commands.app import app
from station.commands.folders import data_folder
from station.commands.squad_file import SquadFileError, read_squad
from station.store.database import FILE_NAME
from station.store.record import Record

COMMANDS = sorted(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


def run(*words: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, list(words))
    return result.exit_code, result.stdout, result.stderr


def one_sentence(stderr: str) -> str:
    """The single line that a failing command leaves."""
    lines = stderr.strip().splitlines()
    assert len(lines) == 1, stderr
    assert "Traceback" not in stderr
    return lines[0]


def test_the_commands_are_all_there() -> None:
    assert {"demo", "rack", "replay", "squad"} <= set(COMMANDS)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_a_manual(command: str) -> None:
    status, out, _ = run(command, "--help")
    assert status == 0
    assert len(out) > 600
    assert "Usage:" in out


def test_the_program_says_what_it_is_and_what_it_is_not() -> None:
    status, out, _ = run("--help")
    assert status == 0
    words = " ".join(out.split())
    assert "bar speed" in words
    assert "neither a diagnosis" in words


def test_help_is_quick_since_qt_is_not_loaded_for_it() -> None:
    code = "import sys; from station.commands.app import app; sys.exit('PySide6' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_demo_of_a_recording_without_a_column_is_refused_before_anything_starts(tmp_path: Path) -> None:
    file = tmp_path / "short.csv"
    file.write_text("seq,host_time_s,acc_x_m_s2,acc_y_m_s2\n0,0.1,0,0\n")
    status, _, err = run("demo", "--recording", str(file), "--headless", "--output", str(tmp_path / "out"))
    assert status == 2
    said = one_sentence(err)
    assert "short.csv" in said
    assert "acc_z_m_s2" in said
    assert not (tmp_path / "out").exists()


def test_a_rack_on_a_file_that_is_no_database_is_refused(tmp_path: Path) -> None:
    folder = data_folder(tmp_path, "rack 1")
    folder.mkdir()
    (folder / FILE_NAME).write_bytes(b"my diary")
    status, _, err = run("rack", "--data", str(tmp_path))
    assert status == 2
    assert "is not a station's record" in one_sentence(err)
    assert (folder / FILE_NAME).read_bytes() == b"my diary"


def test_a_second_rack_on_the_same_folder_is_refused(tmp_path: Path) -> None:
    holder = Record(data_folder(tmp_path, "rack 1"), "rack 1", lambda: datetime.now(UTC))
    status, _, err = run("rack", "--data", str(tmp_path))
    holder.close()
    assert status == 2
    assert "already using" in one_sentence(err)


def test_a_wrong_profile_is_refused_with_its_line(tmp_path: Path) -> None:
    profile = tmp_path / "mine.toml"
    profile.write_text('name = "mine"\nrate_hz = "fast"\n')
    status, _, err = run("rack", "--data", str(tmp_path), "--profile", str(profile))
    assert status == 2
    said = one_sentence(err)
    assert "mine.toml" in said


def test_racks_have_folders_of_their_own(tmp_path: Path) -> None:
    assert data_folder(tmp_path, "rack 1") != data_folder(tmp_path, "rack 2")
    assert data_folder(tmp_path, "../rack").parent == tmp_path


SQUAD = """name,shirt_number,rack,lift,warmup_load_kg,planned_load_kg,ceiling_kg
Aino Amsel,7,rack 1,back squat,60,95,100
Bela Birkholz,8,rack 1,,,,
,9,rack 1,,,,
Ciro Carstam,ten,rack 2,,,,
Dagny Dornbluet,11,rack 2,curl,20,30,
Edda Elmgren,12,rack 2,bench press,,60,
Fenno Farnwald,13,rack 2,bench press,40,heavy,
"""


def test_good_rows_of_a_squad_are_added_and_bad_ones_named_by_line(tmp_path: Path) -> None:
    file = tmp_path / "squad.csv"
    file.write_text(SQUAD)
    status, out, err = run("squad", str(file), "--data", str(tmp_path))
    assert status == 0
    assert "2 athletes added, 5 rows left out" in out
    complaints = err.strip().splitlines()
    assert [f"line {n}" in line for n, line in zip(range(4, 9), complaints, strict=True)] == [True] * 5
    record = Record(data_folder(tmp_path, "rack 1"), "rack 1", lambda: datetime.now(UTC))
    assert [a.name for a in record.athletes()] == ["Aino Amsel", "Bela Birkholz"]
    (plan,) = record.plans()
    assert (plan["planned_load_kg"], plan["ceiling_kg"]) == (95.0, 100.0)
    record.close()


def test_a_squad_without_its_columns_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "squad.csv"
    file.write_text("athlete\nAino\n")
    status, _, err = run("squad", str(file), "--data", str(tmp_path))
    assert status == 2
    assert "name, rack" in one_sentence(err)


def test_a_squad_file_that_is_not_there_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(SquadFileError, match="cannot be read"):
        read_squad(tmp_path / "none.csv")
