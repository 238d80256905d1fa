"""A rack is usable soon after its start: it waits for no library that a set at a bar has no use for."""

from __future__ import annotations

import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from station.store.record import Record

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
