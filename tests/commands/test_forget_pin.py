"""`forget-pin`: the machine's account forgets a PIN, and its owner chooses another beside a colleague."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from typer.testing import CliRunner

from station.commands.app import app
from station.store.rack_things import pin_hashes
from tests.capture.bench import Bench

MINKE, HALVARD = "Coach Minke", "Coach Halvard"


def forget(root: Path, name: str) -> str:
    return CliRunner().invoke(app, ["forget-pin", name, "--data", str(root)]).output


def test_a_forgotten_pin_is_forgotten_by_the_machines_account_and_chosen_beside_a_colleague(
    tmp_path: Path,
) -> None:
    rack = Bench(tmp_path / "data" / "rack-1")
    with closing(rack.record):
        rack.rack.sign_in(MINKE)
        rack.rack.set_pin("2468")
        rack.rack.sign_in(MINKE, "2468")
        rack.rack.sign_in(HALVARD)
        rack.rack.set_pin("1357")
        assert "beside a colleague with a PIN" in forget(tmp_path / "data", HALVARD)
        assert set(pin_hashes(rack.record)) == {MINKE}
        assert "has no PIN here" in forget(tmp_path / "data", HALVARD)
        assert "nobody has one any more" in forget(tmp_path / "data", MINKE)
