"""What part of the squad day's list is shown: by position, rack, training status, day after the match."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtWidgets import QComboBox, QWidget

from station.readiness.squad_filter import Filter
from station.readiness.squad_values import AthleteDay
from station.screens.desk_fields import offer
from station.squad.athletes import TrainingStatus

EVERYTHING = {
    "position": "all positions",
    "rack": "all racks",
    "status": "every status",
    "after match": "all days",
}


class SquadFilters:
    """A box for each.

    Args:
        parent: the window.
        changed: somebody chose.
    """

    def __init__(self, parent: QWidget, changed: Callable[[], None]) -> None:
        self.boxes = {name: QComboBox(parent) for name in EVERYTHING}
        for name, box in self.boxes.items():
            box.setAccessibleName(f"filter by {name}")
            box.currentIndexChanged.connect(changed)

    def chosen(self) -> Filter:
        """What part of the list is asked for."""
        chosen = {name: box.currentData() or "" for name, box in self.boxes.items()}
        status = TrainingStatus(chosen["status"]) if chosen["status"] else None
        return Filter(chosen["position"], chosen["rack"], status, chosen["after match"])

    def offer(self, athletes: Sequence[AthleteDay]) -> None:
        """Offer what these athletes have, keeping what was chosen."""
        lines = [one.line for one in athletes]
        values = {
            "position": sorted({line.position for line in lines if line.position}),
            "rack": sorted({line.athlete.group for line in lines if line.athlete.group}),
            "status": [status.value for status in TrainingStatus],
            "after match": sorted({one.after.in_words() for one in athletes}),
        }
        for name, box in self.boxes.items():
            offer(box, [(EVERYTHING[name], ""), *((value, value) for value in values[name])])
