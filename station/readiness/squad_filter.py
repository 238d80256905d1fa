"""What part of the list is shown."""

from __future__ import annotations

from dataclasses import dataclass

from station.readiness.squad_list import Entry
from station.squad.athletes import TrainingStatus


@dataclass(frozen=True, slots=True)
class Filter:
    """What part of the list is shown; "" or None: all."""

    position: str = ""
    group: str = ""
    status: TrainingStatus | None = None
    after: str = ""

    def shows(self, entry: Entry) -> bool:
        """Whether an entry passes."""
        athlete, position = entry.athlete.line.athlete, entry.athlete.line.position
        return (
            (not self.position or position == self.position)
            and (not self.group or athlete.group == self.group)
            and (self.status is None or athlete.status is self.status)
            and (not self.after or entry.athlete.after.in_words() == self.after)
        )
