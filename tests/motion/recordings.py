"""The published recordings in tests/data, as tests read them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow.parquet as parquet

from drivers.recording import read_recording
from drivers.samples import FloatArray, TimedBlock
from station.commands.replay import PlacementChoice, measured
from station.motion.events import MotionEvent

DATA = Path(__file__).parent.parent / "data"
HAND = DATA / "hand_translation" / "slow.parquet"
WALKS = [DATA / "walking_lower_back" / f"walk_{n}.parquet" for n in ("001", "002")]


def columns_of(path: Path) -> dict[str, FloatArray]:
    """The columns of a table."""
    table = parquet.read_table(path)
    return {name: table[name].to_numpy() for name in table.column_names}


def optical_strokes() -> FloatArray:
    """Start and end (s), displacement (m), mean and peak velocity (m/s) of the upward strokes, shape (n, 5)."""
    return np.loadtxt(DATA / "hand_translation" / "slow_strokes.csv", delimiter=",", skiprows=1)


def events_of(path: Path, placement: PlacementChoice) -> list[MotionEvent]:
    """What replaying a recording finds."""
    found = measured(read_recording(path), placement, None)
    return [event for event, _ in found if event is not None]


def phone(name: str) -> TimedBlock:
    """A phone recording on its own times (s since its first sample)."""
    table = columns_of(DATA / "phone_drops" / f"{name}.parquet")
    acc = np.column_stack([table[f"acc_{axis}_m_s2"] for axis in "xyz"])
    return TimedBlock(table["time_s"] - table["time_s"][0], np.arange(len(acc)), acc)
