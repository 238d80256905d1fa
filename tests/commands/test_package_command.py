"""`import`: what an export wrote is taken in, and the command says how much of it."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from typer.testing import CliRunner

from station.commands.app import app
from station.store.export_files import PACKAGE
from tests.store.squad_record import Clock, opened
from tests.store.test_package_import import fill, handed_on


def test_the_command_says_what_came_in(tmp_path: Path) -> None:
    clock = Clock()
    with closing(opened(tmp_path / "from", "rack 1", clock)) as record:
        fill(record, clock)
    package = handed_on(tmp_path / "from", tmp_path / "first")
    data = str(tmp_path / "data")
    done = CliRunner().invoke(app, ["import", str(package), "--data", data])
    assert done.exit_code == 0, done.output
    assert "sets: 5 taken in" in done.stdout
    again = CliRunner().invoke(app, ["import", str(package / PACKAGE), "--data", data])
    assert "sets: 0 taken in, 5 were there already" in again.stdout
    lone = CliRunner().invoke(app, ["import", str(tmp_path), "--data", data])
    assert lone.exit_code == 2
    assert "nothing was written" in lone.stderr
