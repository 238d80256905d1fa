"""Keeps the raw samples of each set: the seconds before its first rep, and all until it ends."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from pathlib import Path

from drivers.samples import SampleBlock
from station.store.journal import RawFile, RawJournal, finish_journal, left_over, set_of
from station.store.record import Record

# Rest before the first rep, so that an engine can find gravity when the set is measured again.
KEPT_BEFORE_S = 15.0


class RawKeeper:
    """Holds the latest samples; a set that begins gets them first."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._recent: deque[SampleBlock] = deque()
        self._held: list[SampleBlock] = []  # of the open set, not in its journal yet
        self._journal: RawJournal | None = None
        self.failure: str | None = None  # why the raw samples of this set are not kept

    def recover(self, record: Record) -> int:
        """Finish the journals that a power cut left behind; how many. A journal of no known set stays as it is."""
        known = [path for path in left_over(self.folder) if record.has_set(set_of(path))]
        for journal in known:
            file = finish_journal(journal)
            if file is not None:
                record.add_raw_file(set_of(journal), file.file, file.samples, file.sha256)
        return len(known)

    def add(self, block: SampleBlock) -> None:
        """Samples as they came from the sensor."""
        if not len(block):
            return
        self._recent.append(block)
        newest = block.host_time_s[-1]
        while newest - self._recent[0].host_time_s[-1] > KEPT_BEFORE_S:
            self._recent.popleft()
        if self._journal is not None:
            self._held.append(block)
            self._guarded(self._append_held)

    def begin(self, set_id: str) -> None:
        """A set begins: the journal starts with what is held. It is written with the next samples, since the first
        rep's number should not wait for seconds of samples before it."""
        self.failure = None
        try:
            self._journal = RawJournal(self.folder, set_id)
        except OSError as error:
            self._fail(error)
            return
        self._held = list(self._recent)

    def _append_held(self, journal: RawJournal) -> None:
        held, self._held = self._held, []
        for block in held:
            journal.append(block)

    def sync(self) -> None:
        """Once a second: what came so far is on the disk."""
        self._guarded(self._append_held)
        self._guarded(lambda journal: journal.sync())

    def end(self) -> RawFile | None:
        """The set is over: its file, or None when nothing was kept."""
        self._guarded(self._append_held)
        journal, self._journal = self._journal, None
        try:
            return journal.finish() if journal is not None else None
        except OSError as error:
            self._fail(error)
            return None

    def _guarded(self, write: Callable[[RawJournal], None]) -> None:
        """Raw samples are worth less than the reps: a disk that refuses them does not end capture."""
        if self._journal is None:
            return
        try:
            write(self._journal)
        except OSError as error:
            self._journal = None
            self._fail(error)

    def _fail(self, error: OSError) -> None:
        self.failure = error.strerror or str(error)
