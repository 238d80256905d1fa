"""Keeps the raw samples of each set: the seconds before its first rep, and all until it ends."""

from __future__ import annotations

from collections import deque
from pathlib import Path

from drivers.samples import SampleBlock
from station.store.journal import RawFile, RawJournal, finish_journal, left_over
from station.store.record import Record

# Rest before the first rep, so that an engine can find gravity when the set is measured again.
KEPT_BEFORE_S = 15.0


class RawKeeper:
    """Holds the latest samples; a set that begins gets them first."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._recent: deque[SampleBlock] = deque()
        self._journal: RawJournal | None = None

    def recover(self, record: Record) -> int:
        """Finish the journals that a power cut left behind; how many."""
        left = left_over(self.folder)
        for journal in left:
            file = finish_journal(journal)
            if file is not None:
                record.add_raw_file(journal.stem, file.file, file.samples, file.sha256)
        return len(left)

    def add(self, block: SampleBlock) -> None:
        """Samples as they came from the sensor."""
        if not len(block):
            return
        self._recent.append(block)
        newest = block.host_time_s[-1]
        while newest - self._recent[0].host_time_s[-1] > KEPT_BEFORE_S:
            self._recent.popleft()
        if self._journal is not None:
            self._journal.append(block)

    def begin(self, set_id: str) -> None:
        """A set begins: the journal starts with what is held."""
        self._journal = RawJournal(self.folder, set_id)
        for block in self._recent:
            self._journal.append(block)

    def sync(self) -> None:
        """Once a second: what came so far is on the disk."""
        if self._journal is not None:
            self._journal.sync()

    def end(self) -> RawFile | None:
        """The set is over: its file, or None when nothing was kept."""
        journal, self._journal = self._journal, None
        return journal.finish() if journal is not None else None
