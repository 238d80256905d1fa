"""The squad as whoever may not read check-in answers sees it: the measured things, and what staff did about those."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from station.readiness.squad_list import without_health
from station.readiness.squad_rules import Measure
from station.readiness.squad_values import AthleteDay
from station.squad.entries import EntryEvent

MEASURED = tuple(measure for measure in Measure if measure is not Measure.CHECK_IN)
# Reasons that no answer is behind; whatever else stands in an event is taken for one that an answer is behind.
_OPEN_TO_ALL = ("quiet ", *(f"{measure} below " for measure in MEASURED))


def without_answers(athletes: Sequence[AthleteDay]) -> tuple[AthleteDay, ...]:
    """The same athletes as if nobody had been asked how they feel; handled is what was handled without an answer."""
    bare = without_health(athletes)
    return tuple(
        replace(one, events=tuple(event for event in full.events if _open_to_all(event)))
        for one, full in zip(bare, athletes, strict=True)
    )


def _open_to_all(event: EntryEvent) -> bool:
    return all(key.startswith(_OPEN_TO_ALL) for key in event.seen)
