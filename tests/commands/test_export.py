"""`export`: one command from the record to files, and what it refuses."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from typer.testing import CliRunner, Result

from station.commands.app import app
from station.commands.export_command import What
from station.store.export_fields import SHEETS
from tests.store.squad_record import AINO, BELA, DAY, add_squad, everything_about, lift, opened


@pytest.fixture
def root(tmp_path: Path) -> Path:
    with closing(opened(tmp_path / "data")) as rack:
        add_squad(rack)
        everything_about(rack, AINO)
        lift(rack, BELA, (0.55,))
    return tmp_path / "data"


def exported(root: Path, *words: object) -> Result:
    return CliRunner().invoke(
        app, ["export", str(root.parent / "out"), "--data", str(root), *map(str, words)]
    )


def test_the_tables_by_name_are_those_that_there_are() -> None:
    assert {what.value for what in What} | {"athletes"} == set(SHEETS)


def test_files_and_their_description_lie_in_the_folder(root: Path) -> None:
    said = exported(
        root, "--what", "reps", "--what", "sets", "--from", DAY, "--to", DAY, "--format", "parquet"
    )
    assert said.exit_code == 0, said.output
    out = root.parent / "out"
    assert {file.name for file in out.iterdir()} == {"reps.parquet", "sets.parquet", "datapackage.json"}
    assert pq.read_table(out / "reps.parquet").num_rows == 3
    assert "3 rows" in said.output
    described = json.loads((out / "datapackage.json").read_text("utf-8"))
    assert [one["path"] for one in described["resources"]] == ["reps.parquet", "sets.parquet"]


def test_check_ins_are_refused_without_the_flag_and_nothing_is_written(root: Path) -> None:
    said = exported(root, "--what", "sets", "--what", "checkins")
    assert said.exit_code == 2
    assert said.stderr.count("\n") == 1
    assert "--with-health-data" in said.stderr
    assert not (root.parent / "out").exists()
    assert exported(root, "--what", "checkins", "--with-health-data").exit_code == 0
    assert "slept in a tent" in (root.parent / "out" / "checkins.csv").read_text("utf-8")


def test_no_record_and_days_the_wrong_way_round_are_said_in_a_sentence(root: Path) -> None:
    nothing = exported(root.parent / "nowhere", "--what", "sets")
    assert (nothing.exit_code, nothing.stderr.count("\n")) == (2, 1)
    assert "there is no record in" in nothing.stderr
    turned = exported(root, "--what", "sets", "--from", "2026-10-15", "--to", "2026-10-14")
    assert (turned.exit_code, "exchange them" in turned.stderr) == (2, True)


def test_a_folder_that_cannot_be_written_is_said_in_a_sentence(root: Path) -> None:
    (root.parent / "out").write_text("in the way", "utf-8")
    said = exported(root, "--what", "sets")
    assert (said.exit_code, "cannot write to" in said.stderr) == (2, True)


def test_a_missing_raw_file_is_named_and_the_rest_is_written(root: Path) -> None:
    (missing,) = (root / "rack-1" / "raw").glob("*.parquet")
    missing.unlink()
    said = exported(root, "--what", "raw")
    assert (said.exit_code, missing.name in said.stderr) == (1, True)
    assert (root.parent / "out" / "raw.csv").read_text("utf-8").count("\n") == 1
