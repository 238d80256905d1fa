"""A rack is usable soon after its start: no library that a bar has no use for, and no other program, holds it up."""

from __future__ import annotations

import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from filelock import FileLock

from station.commands import rack_command
from station.commands.rack_program import Look
from station.store.record import Record
from station.store.sensor_book import SensorBook

SLOW_TO_LOAD = ("alembic", "pandas", "psycopg", "scipy.interpolate", "scipy.optimize", "station.motion.jumps")
OPENED = f"""
import sys
from pathlib import Path

import numpy as np

import station.screens.rack_app
from drivers.recording import write_recording
from drivers.samples import SampleBlock
from station.commands.rack_command import open_rack, utc_now
from station.store.record import Record

folder = Path(sys.argv[1])
record = Record(folder, "rack 1", utc_now)
open_rack(record, lambda view: None)
some = np.arange(20)
write_recording(folder / "set.parquet", SampleBlock(some, some / 200, np.ones((20, 3)), np.zeros((20, 3))))
print([name for name in {SLOW_TO_LOAD!r} if name in sys.modules])
record.close()
"""


def test_neither_the_start_nor_the_end_of_a_set_loads_what_a_bar_has_no_use_for(tmp_path: Path) -> None:
    """Each of these held up the first picture, or a set's end, by up to a third of a second."""
    with closing(Record(tmp_path / "rack-1", "rack 1", lambda: datetime.now(UTC))):
        pass  # an existing record: a new one is made by its migrations
    words = [sys.executable, "-c", OPENED, str(tmp_path / "rack-1")]
    run = subprocess.run(words, capture_output=True, text=True, timeout=120, check=False)
    assert run.returncode == 0, run.stderr
    assert run.stdout.strip() == "[]"
    assert (tmp_path / "rack-1" / "set.parquet").exists()


def test_a_rack_starts_though_another_program_holds_the_sensor_book(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.store.sensor_book.LOCK_WAIT_S", 0.0)
    started: list[object] = []
    monkeypatch.setattr(rack_command, "run_rack", lambda *rack: started.append(rack))
    with closing(
        Record(rack_command.data_folder(tmp_path, "rack 1"), "rack 1", rack_command.utc_now)
    ) as record:
        record.claim_sensor("bar sensor", "F0:00:00:00:00:01")
    book = SensorBook(tmp_path)
    with FileLock(book.path.with_suffix(".lock")):
        rack_command.run_on_radio("rack 1", tmp_path, None, None, Look())
    assert len(started) == 1
    rack_command.run_on_radio("rack 1", tmp_path, None, None, Look())
    claimed = book.claimed_by("rack 1")
    assert claimed is not None
    assert claimed.address == "F0:00:00:00:00:01"


def test_a_rack_starts_though_the_sensor_book_cannot_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[object] = []
    monkeypatch.setattr(rack_command, "run_rack", lambda *rack: started.append(rack))
    SensorBook(tmp_path).path.mkdir()
    rack_command.run_on_radio("rack 1", tmp_path, None, None, Look())
    assert len(started) == 1
