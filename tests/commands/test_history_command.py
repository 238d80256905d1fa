"""`import-history`: a preview first, questions where something is open, nothing written before somebody agrees."""

from __future__ import annotations

from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from station.commands.app import app
from station.store.record import Record
from tests.store.squad_record import AINO, LIFT, Clock, add_squad, opened

TEXT = (
    "Athlete,Date,Exercise,Load,Velocity\n"
    "Aino Amsel,2025-09-01,BSQ,132,0.70\n"
    "Aino Amsel,2025-09-08,BSQ,132,0.72\n"
    "Nobody Known,2025-09-08,BSQ,132,0.72\n"
)
UNITS = ("--load-unit", "lb", "--velocity-unit", "m/s", "--lift", f"BSQ={LIFT}")


@pytest.fixture
def root(tmp_path: Path) -> Path:
    with closing(opened(tmp_path / "data", "desk")) as record:
        add_squad(record)
    (tmp_path / "old.csv").write_text(TEXT)
    return tmp_path


def run(root: Path, *said: str, answer: str = "") -> Result:
    return CliRunner().invoke(app, ["import-history", *said, "--data", str(root / "data")], input=answer)


def lifted(root: Path) -> list[tuple[date, float]]:
    with closing(Record(root / "data" / "desk", "desk", Clock())) as record:
        return [(o.day, round(o.load_kg, 1)) for o in record.observations(AINO, LIFT)]


def test_a_unit_that_is_not_stated_is_asked_for_and_nothing_is_written(root: Path) -> None:
    done = run(root, str(root / "old.csv"), "--yes")
    assert done.exit_code == 2
    assert "In which unit is the load: kg, lb?" in done.stderr
    assert lifted(root) == []


def test_nothing_is_written_by_whoever_does_not_agree(root: Path) -> None:
    done = run(root, str(root / "old.csv"), *UNITS, answer="n\n")
    assert done.exit_code == 1
    assert "2 sets with 2 reps of 1 athlete," in done.stdout
    assert "line 4: nobody is called 'Nobody Known'" in done.stderr
    assert lifted(root) == []


def test_what_was_agreed_to_is_written_listed_and_taken_out(root: Path) -> None:
    done = run(root, str(root / "old.csv"), *UNITS, "--label", "old device", answer="y\n")
    assert done.exit_code == 0, done.output
    assert lifted(root) == [(date(2025, 9, 1), 59.9), (date(2025, 9, 8), 59.9)]
    key = run(root).stdout.partition(":")[0]
    assert "old device, 2 sets" in run(root).stdout
    assert "taken out, 2 reps" in run(root, "--take-out", key).stdout
    assert lifted(root) == []


def test_without_asking_a_file_with_a_wrong_line_is_refused(root: Path) -> None:
    done = run(root, str(root / "old.csv"), *UNITS, "--yes")
    assert done.exit_code == 2
    assert "1 line is wrong, and nothing was written" in done.stderr
    assert lifted(root) == []


def test_an_unknown_lift_is_asked_for_by_its_word(root: Path) -> None:
    done = run(root, str(root / "old.csv"), *UNITS[:4])
    assert "say what these are with --lift WORD=LIFT: BSQ" in done.stderr


def test_a_column_can_be_named_and_a_missing_file_is_said(root: Path) -> None:
    assert run(root, str(root / "no.csv")).exit_code == 2
    done = run(root, str(root / "old.csv"), *UNITS, "--column", "athlete=Who")
    assert "the heads are Athlete, Date, Exercise, Load, Velocity" in done.stderr
