"""The few rules behind the squad day: visible on the screen, each in a sentence; adjusted in `rules_adjusted`."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import time
from enum import StrEnum


class Measure(StrEnum):
    """The three measures."""

    BAR = "bar speed"
    JUMP = "jump"
    CHECK_IN = "check-in"


def _due_by() -> dict[Measure, time]:
    return {Measure.CHECK_IN: time(9), Measure.JUMP: time(12), Measure.BAR: time(20)}


@dataclass(frozen=True, slots=True)
class SquadRules:
    """When an athlete is put where.

    Attributes:
        below_chance: a measure is clearly below usual when its chance is smaller than this and nothing has changed.
        talk_from: so many measures clearly below: talk first. One: look at.
        counts_days: a measure counts on its own day and so many days after it; shown it is for longer.
        due_by: after this time a measure that others have done today, or that the calendar proposes, is missing.
        together_sds: a group has moved together when its mean is so many standard errors off its athletes' usual.
        together_least: smallest group that can.
        open_days: pain or illness stays on the list so long, until it is closed.
    """

    below_chance: float = 0.025
    talk_from: int = 2
    counts_days: int = 0
    due_by: dict[Measure, time] = field(default_factory=_due_by)
    together_sds: float = 3.5
    together_least: int = 3
    open_days: int = 14

    def in_words(self) -> tuple[str, ...]:
        """A sentence for each rule."""
        days = "on its own day" if not self.counts_days else f"for {self.counts_days} more days"
        times = ", ".join(f"{measure} by {at:%H:%M}" for measure, at in self.due_by.items())
        return (
            "Talk first: pain or illness said and not closed, wants to talk, or "
            f"{self.talk_from} measures clearly below usual.",
            "Look at: one measure clearly below usual.",
            f"Clearly below: a chance under {100 * self.below_chance:g} % when nothing has changed. "
            f"A measure counts {days}. The day after a match is not judged.",
            f"Not seen: nothing today although it was due ({times}). Missing is unknown, never fine.",
        )
