"""Raw samples of the open set: appended to a journal while people lift, a compressed Parquet file afterwards.

A jump is over when it is known: its samples are written to such a file at once.

Samples are kept as they came, uncalibrated, so that a better engine can measure an old season again. A journal left
by a power cut is found and finished at the next start.
"""

from __future__ import annotations

import hashlib
import os
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from drivers.recording import RecordingWriter
from drivers.samples import FloatArray, SampleBlock

_MAGIC = b"BSJ1"
_HEADER = struct.Struct("<4sBB")  # magic, has gyro, has device time
JOURNAL_SUFFIX = ".journal"


@dataclass(frozen=True, slots=True)
class RawFile:
    """A finished file of raw samples: its name, how many samples, and the SHA-256 of the file."""

    file: str
    samples: int
    sha256: str


class RawJournal:
    """The journal of one set. `append` buffers, `sync` makes durable, `finish` turns it into Parquet."""

    def __init__(self, folder: Path, set_id: str) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        # A set that goes on after a power cut has a second part; nothing written before is touched.
        part = 1 + len(list(folder.glob(f"{set_id}_*.*")))
        self.path = folder / f"{set_id}_{part}{JOURNAL_SUFFIX}"
        self._file: BinaryIO = self.path.open("wb")
        self._shape: tuple[bool, bool] | None = None

    def append(self, block: SampleBlock) -> None:
        """Add samples; a change of axes in mid-stream (a gyro that fell out) is filled with NaN."""
        if not len(block):
            return
        if self._shape is None:
            self._shape = (block.gyr_rad_s is not None, block.device_time_s is not None)
            self._file.write(_HEADER.pack(_MAGIC, *self._shape))
        self._file.write(_rows(block, *self._shape).tobytes())

    def sync(self) -> None:
        """What was appended is on the disk when this returns."""
        self._file.flush()
        os.fsync(self._file.fileno())

    def finish(self) -> RawFile | None:
        """Write the Parquet file, then remove the journal; None when no sample came."""
        self._file.close()
        return finish_journal(self.path)


def finish_journal(path: Path) -> RawFile | None:
    """Turn a journal, whole or cut off, into Parquet beside it, and remove it."""
    block = read_journal(path)
    if block is None:
        path.unlink()
        return None
    kept = _written(path.with_suffix(".parquet"), block)
    path.unlink()
    return kept


def write_raw(folder: Path, jump_id: str, block: SampleBlock) -> RawFile:
    """The raw samples of one jump, written at once: it is over when it is known."""
    return _written(folder / f"{jump_id}_1.parquet", block)


def write_part(folder: Path, set_id: str, part: int, block: SampleBlock) -> RawFile:
    """The raw samples of one part of a set, written at once: they come from elsewhere."""
    return _written(folder / f"{set_id}_{part}.parquet", block)


def _written(target: Path, block: SampleBlock) -> RawFile:
    with RecordingWriter(target) as writer:
        writer.write(block)
    return RawFile(target.name, len(block), hashlib.sha256(target.read_bytes()).hexdigest())


def left_over(folder: Path) -> list[Path]:
    """Journals that a power cut left behind, oldest first."""
    return sorted(folder.glob(f"*{JOURNAL_SUFFIX}")) if folder.exists() else []


def set_of(file: Path) -> str:
    """The id of the set whose samples a journal or raw file holds."""
    return file.stem.partition("_")[0]


def read_journal(path: Path) -> SampleBlock | None:
    """The samples of a journal; a last row cut off by a power cut is left out. None when it holds none."""
    data = path.read_bytes()
    if len(data) < _HEADER.size:
        return None
    magic, has_gyr, has_device_time = _HEADER.unpack_from(data)
    if magic != _MAGIC:
        return None
    width = 5 + 3 * has_gyr + has_device_time
    whole = (len(data) - _HEADER.size) // (8 * width)
    if not whole:
        return None
    rows = np.frombuffer(data, "<f8", whole * width, _HEADER.size).reshape(whole, width)
    return SampleBlock(
        rows[:, 0].astype(np.int64),
        rows[:, 1].copy(),
        rows[:, 2:5].copy(),
        rows[:, 5:8].copy() if has_gyr else None,
        rows[:, -1].copy() if has_device_time else None,
    )


def _rows(block: SampleBlock, has_gyr: bool, has_device_time: bool) -> FloatArray:
    n = len(block)
    parts: list[FloatArray] = [block.seq.astype(float)[:, None], block.host_time_s[:, None], block.acc_m_s2]
    if has_gyr:
        parts.append(np.full((n, 3), np.nan) if block.gyr_rad_s is None else block.gyr_rad_s)
    if has_device_time:
        stamps = block.device_time_s
        parts.append(np.full((n, 1), np.nan) if stamps is None else stamps[:, None])
    return np.hstack(parts).astype("<f8")
