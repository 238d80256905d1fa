"""A stored set through today's engine: old beside new, the record as it was, damaged files named."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from station.capture.remeasure import measure_again, measure_all_again
from station.commands.app import app
from station.commands.folders import data_folder
from station.store.kept_raw import kept_sets
from tests.capture.bench import DAY, WARMUP, Bench


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of a rack at which one set was lifted."""
    root = tmp_path_factory.mktemp("data")
    bench = Bench(data_folder(root, "rack 1"))
    bench.lift(WARMUP)
    bench.rack.close()
    bench.record.close()
    return root


def remeasure(root: Path, *words: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, ["remeasure", "--data", str(root), *words])
    return result.exit_code, result.stdout, result.stderr


def test_the_same_engine_finds_the_same_reps_again(folder: Path) -> None:
    status, out, err = remeasure(folder, "--format", "jsonl")
    assert status == 0
    (line,) = [json.loads(text) for text in out.splitlines()]
    assert line["day"] == DAY.isoformat()
    assert len(line["now_m_s"]) == len(line["then_m_s"]) == len(WARMUP.mean_velocities_m_s)
    assert line["now_m_s"] == pytest.approx(line["then_m_s"], abs=0.01)
    assert "1 sets measured again" in err


def test_days_can_be_chosen(folder: Path) -> None:
    status, out, _ = remeasure(folder, "--from", "2026-10-15")
    assert (status, out) == (0, "")


def test_all_cores_find_what_one_finds(folder: Path) -> None:
    from station.store.record import Record
    from tests.capture.bench import Now

    home = data_folder(folder, "rack 1")
    record = Record(home, "rack 1", Now())
    kept = kept_sets(record.database.engine) * 3
    record.close()
    one = [measure_again(home, single).velocities_m_s for single in kept]
    assert [again.velocities_m_s for again in measure_all_again(home, kept, processes=2)] == one


def test_a_flipped_byte_is_named_and_the_others_go_on(folder: Path) -> None:
    file = next((data_folder(folder, "rack 1") / "raw").glob("*.parquet"))
    whole = file.read_bytes()
    file.write_bytes(whole[:100] + bytes([whole[100] ^ 1]) + whole[101:])
    try:
        status, out, err = remeasure(folder)
    finally:
        file.write_bytes(whole)
    assert status == 0
    assert "checksum" in out
    assert "1 could not be read" in err


def test_a_folder_without_a_record_is_said(tmp_path: Path) -> None:
    status, _, err = remeasure(tmp_path)
    assert status == 2
    assert "there is no record of rack 1" in err
