"""`backup`, `restore`, `space` and `athlete`: whole records in one command each."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from contextlib import closing
from io import StringIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner, Result

from station.commands.app import app
from station.store import nearby
from station.store.nightly import read_nightly
from station.store.record import Record
from tests.store.squad_record import AINO, BELA, DAY, add_squad, everything_about, lift, opened


@pytest.fixture
def root(tmp_path: Path) -> Path:
    with closing(opened(tmp_path / "data", "rack 1")) as rack:
        add_squad(rack)
        everything_about(rack, AINO)
        other = lift(rack, BELA, (0.55,))
        rack.add_rows("comments", [{"set_id": other, "words": "another's set", "staff": "Coach Straten"}])
    return tmp_path / "data"


@pytest.fixture
def running(root: Path) -> Iterator[Record]:
    with closing(opened(root, "rack 1")) as rack:
        yield rack


def station(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def test_a_backup_is_one_command_while_a_station_runs_and_comes_back(root: Path, running: Record) -> None:
    second = root.parent / "second"
    said = station("backup", second, "--nightly", "--data", root)
    assert said.exit_code == 0, said.output
    assert "1 raw files, checked" in said.output
    nightly = read_nightly(root)
    assert nightly is not None
    assert nightly.folder == second
    (made,) = (second / "rack-1").glob("*/manifest.json")
    refused = station("restore", made, "--data", root)
    assert refused.exit_code == 2
    assert "already using" in refused.output
    running.close()
    back = station("restore", made, "--data", root.parent / "another")
    assert back.exit_code == 0, back.output
    with closing(opened(root.parent / "another", "rack 1")) as again:
        assert len(again.sets_on(DAY)) == 2


def test_without_a_folder_a_backup_asks_for_one(root: Path) -> None:
    said = station("backup", "--data", root)
    assert (said.exit_code, "name a folder to back up to" in said.output) == (2, True)


def test_the_room_is_said_while_a_station_runs(root: Path, running: Record) -> None:
    said = station("space", "--data", root)
    assert said.exit_code == 0, said.output
    assert f"in 1 files ({DAY} to {DAY}), last good backup never" in said.output.replace("\n", "")


def test_an_own_copy_holds_everything_about_one_and_nothing_about_another(
    root: Path, running: Record
) -> None:
    with closing(opened(root, "desk")) as desk:
        nearby.take_over(desk, nearby.DESK_TABLES)
    said = station("athlete", "copy", AINO, "--to", root.parent / "copy", "--data", root)
    assert said.exit_code == 0, said.output
    pages = PdfReader(root.parent / "copy" / "own-copy.pdf").pages
    text = " ".join("\n".join(page.extract_text() for page in pages).split())
    for words in (
        "Aino Amselstein",
        "0.70, 0.68",
        "left hamstring",
        "slept in a tent",
        "31.0",
        "ice",
        "62.5 kg",
        "spotter helped",
        "Use 95 kg",
    ):
        assert words in text
    assert "Birkholz" not in text
    assert "another's set" not in text
    tables = (root.parent / "copy").glob("*.csv")
    files = {file.stem: list(csv.DictReader(StringIO(file.read_text()))) for file in tables}
    assert [row["mean_velocity_m_s"] for row in files["reps"]] == ["0.7", "0.68"]
    assert [row["load_kg"] for row in files["reps"]] == ["62.5", "62.5"]
    assert [(row["words"], row["staff"], row["taken_back"]) for row in files["comments"]] == [
        ("spotter helped", "Coach Straten", "False")
    ]
    assert [(row["field"], row["staff"]) for row in files["corrections"]] == [
        ("load_kg", "Coach Minke Straten")
    ]
    assert {"jumps", "check_ins", "entry_events", "training_statuses", "athletes"} <= set(files)
    assert BELA not in "".join(file.read_text() for file in (root.parent / "copy").glob("*.csv"))
    assert len(running.sets_on(DAY)) == 2


def test_an_erased_athlete_is_gone_from_every_record_of_the_machine(root: Path) -> None:
    with closing(opened(root, "desk")) as desk:
        nearby.take_over(desk, nearby.DESK_TABLES)
    with closing(opened(root, "rack 2")):
        said = station("athlete", "erase", AINO, "--yes", "--data", root)
    assert said.exit_code == 0, said.output
    assert "rack-2: its station is running and erases within a minute" in said.output
    for name in ("rack 1", "desk", "rack 2"):
        with closing(opened(root, name)) as record:
            assert AINO not in {a.athlete_id for a in record.athletes(DAY)}
    again = station("athlete", "erase", AINO, "--yes", "--data", root)
    assert (again.exit_code, "no athlete called" in again.output) == (2, True)


def test_an_erasure_that_is_not_confirmed_does_nothing(root: Path) -> None:
    said = CliRunner().invoke(app, ["athlete", "erase", "bela birkholz", "--data", str(root)], input="n\n")
    assert said.exit_code == 1
    assert not (root / "erased.csv").exists()


def test_of_two_with_one_name_neither_is_guessed(root: Path) -> None:
    with closing(opened(root, "rack 1")) as rack:
        add = rack.add_rows
        add("athletes", [{"name": "Bela Birkholz", "shirt_number": 9, "group_name": "", "status": "full"}])
    said = station("athlete", "erase", "Bela Birkholz", "--yes", "--data", root)
    assert (said.exit_code, "2 athletes are called Bela Birkholz" in said.output) == (2, True)
