"""Trouble around a rack, looked for once a minute: disk, clock of the machine, backup, shared database."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from station.capture.rack_view import TroubleLine
from station.store.rack_things import newest_set_at
from station.store.record import Record

LITTLE_FREE_BYTES = 500_000_000  # some hundred sets with their raw samples
CLOCK_BACK = timedelta(minutes=5)
BACKUP_TOO_OLD = timedelta(days=3)
AWAY_FOR = timedelta(minutes=10)
KINDS = ("disk low", "clock", "backup", "shared")


def _not_set_up() -> datetime | None:
    return None


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a rack asks about what lies around it.

    Attributes:
        folder: the data folder.
        now: the machine's clock, with zone.
        last_backup: when the last good one was made; None: no backup is set up here.
        shared_away_since: since when the shared database has not answered; None: it answers, or there is none.
    """

    folder: Path
    now: Callable[[], datetime]
    last_backup: Callable[[], datetime | None] = _not_set_up
    shared_away_since: Callable[[], datetime | None] = _not_set_up

    def troubles(self, record: Record) -> list[TroubleLine]:
        """What is wrong now, each with what to do."""
        now = self.now()
        found = [self._disk(), self._clock(record, now), self._backup(now), self._shared(now)]
        return [line for line in found if line is not None]

    def _disk(self) -> TroubleLine | None:
        free = shutil.disk_usage(self.folder).free
        if free >= LITTLE_FREE_BYTES:
            return None
        words = f"The disk is nearly full: {free / 1e6:.0f} MB left"
        return TroubleLine("disk low", words, "Free space today; reps come first, raw samples give way.")

    def _clock(self, record: Record, now: datetime) -> TroubleLine | None:
        newest = newest_set_at(record)
        if newest is None or newest - now <= CLOCK_BACK:
            return None
        words = f"This machine's clock is unsure: a set was recorded {_ago(newest - now)} from now"
        return TroubleLine("clock", words, "Set date and time; sets keep the order they were lifted in.")

    def _backup(self, now: datetime) -> TroubleLine | None:
        made = self.last_backup()
        if made is None or now - made <= BACKUP_TOO_OLD:
            return None
        return TroubleLine("backup", f"The last backup is {_ago(now - made)} old", "Make one after training.")

    def _shared(self, now: datetime) -> TroubleLine | None:
        since = self.shared_away_since()
        if since is None or now - since <= AWAY_FOR:
            return None
        words = f"The shared database has been away for {_ago(now - since)}"
        return TroubleLine("shared", words, "Lift on: this rack keeps everything and sends it later.")


def _ago(length: timedelta) -> str:
    if length >= timedelta(days=2):
        return f"{length.days} days"
    hours = length.total_seconds() / 3600
    return f"{hours:.0f} hours" if hours >= 2 else f"{max(1, round(60 * hours))} minutes"
