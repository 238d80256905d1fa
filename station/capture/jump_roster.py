"""Who jumps today: the roster as this machine's records have it, looked at again while the line is open."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from station.squad.athletes import Athlete, TrainingStatus
from station.store.nearby import signature, take_over
from station.store.record import Record

LOOK_EVERY_S = 5.0


class JumpRoster:
    """The athletes of the line, in line by rack group and name; who is out does not jump.

    Args:
        record: the line's own.
        today: the local day.
    """

    def __init__(self, record: Record, today: Callable[[], date]) -> None:
        self._record, self._today = record, today
        self._seen: tuple[object, ...] = ()
        self._looked_at_s: float | None = None
        self._known: dict[str, Athlete] = {}
        self.line: tuple[str, ...] = ()
        self._read()

    def __getitem__(self, athlete_id: str) -> Athlete:
        return self._known[athlete_id]

    def __contains__(self, athlete_id: str) -> bool:
        return athlete_id in self._known

    def changed(self, now_s: float) -> bool:
        """Whether somebody joined, left, or is out or back since the last look; looked at every few seconds."""
        if self._looked_at_s is not None and now_s - self._looked_at_s < LOOK_EVERY_S:
            return False
        self._looked_at_s = now_s
        folder = self._record.database.folder
        if signature(folder) == self._seen:
            return False
        take_over(self._record)
        self._seen = signature(folder)
        before = self.line, [self._known[a] for a in self.line]
        self._read()
        return before != (self.line, [self._known[a] for a in self.line])

    def _read(self) -> None:
        fit = [a for a in self._record.athletes(self._today()) if a.status is not TrainingStatus.OUT]
        fit.sort(key=lambda a: (a.group, a.name))
        # Whoever left meanwhile keeps the name beside what was jumped.
        self._known |= {a.athlete_id: a for a in fit}
        self.line = tuple(a.athlete_id for a in fit)
