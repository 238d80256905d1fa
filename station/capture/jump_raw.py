"""The raw samples of each jump: the seconds of stance before it, flight and landing, as a Parquet file of its own.

Another engine needs them to measure the jump again: it looks back for quiet stance, and needs rest to find gravity.
"""

from __future__ import annotations

from collections import deque
from pathlib import Path

from drivers.samples import SampleBlock, joined
from station.store.journal import RawFile, write_raw
from station.store.raw_files import FOLDER

# The engine looks back five seconds from the flight; a jump is decided two seconds after its landing.
KEPT_S = 10.0


class LatestSamples:
    """One belt's latest samples, as they came."""

    def __init__(self) -> None:
        self._blocks: deque[SampleBlock] = deque()

    def add(self, block: SampleBlock) -> None:
        """Some more; a counter that began anew, or other axes, begin a recording of their own."""
        if not len(block):
            return
        if self._blocks and not _goes_on(self._blocks[-1], block):
            self._blocks.clear()
        self._blocks.append(block)
        newest = float(block.host_time_s[-1])
        while newest - float(self._blocks[0].host_time_s[-1]) > KEPT_S:
            self._blocks.popleft()

    def held(self) -> SampleBlock | None:
        """All of them; None when nothing came yet."""
        return joined(self._blocks) if self._blocks else None


def _goes_on(before: SampleBlock, block: SampleBlock) -> bool:
    same_axes = (before.gyr_rad_s is None) == (block.gyr_rad_s is None)
    same_stamps = (before.device_time_s is None) == (block.device_time_s is None)
    return same_axes and same_stamps and int(block.seq[0]) > int(before.seq[-1])


class RawOfJumps:
    """Writes the files of one jump line.

    Attributes:
        failure: why the last jump's samples are not kept; "" while they are.
    """

    def __init__(self, record_folder: Path) -> None:
        self._folder = record_folder / FOLDER
        self.failure = ""

    def keep(self, jump_id: str, samples: SampleBlock | None) -> RawFile | None:
        """The file of one jump. They are worth less than the jump: a disk that refuses them is said and no more."""
        if samples is None:
            return None
        try:
            kept = write_raw(self._folder, jump_id, samples)
        except OSError as error:
            self.failure = error.strerror or str(error)
            return None
        self.failure = ""
        return kept
