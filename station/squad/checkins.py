"""The check-in: five items of one scale, where it hurts, and what is said about it. Plain data, words of the trade.

Items and direction (1 to 5, 5 is best on all five, summed) follow McLean et al. 2010, Int J Sports Physiol Perform
5(3):367-383, as summarised by others.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

LOWEST, HIGHEST = 1, 5


@dataclass(frozen=True, slots=True)
class Item:
    """One question: what is asked, and the words at both ends of its scale."""

    key: str
    question: str
    worst: str
    best: str


ITEMS = (
    Item("fatigue", "Fatigue", "always tired", "very fresh"),
    Item("sleep", "Sleep quality", "hardly slept", "very restful"),
    Item("soreness", "Soreness", "very sore", "not sore at all"),
    Item("stress", "Stress", "very stressed", "very relaxed"),
    Item("mood", "Mood", "very low", "very good"),
)
ITEM_KEYS = tuple(item.key for item in ITEMS)
_ALL_ITEMS = frozenset(ITEM_KEYS)

# Body regions in words; those of `SIDED` are asked left or right.
MIDDLE_REGIONS = ("head", "neck", "chest", "belly", "upper back", "lower back")
SIDED_REGIONS = (
    *("shoulder", "elbow", "wrist or hand", "hip", "groin", "thigh, front"),
    *("hamstring", "knee", "calf", "shin", "ankle", "foot"),
)

CAUTION = "Chest pain, fainting, a blow to the head, pain that stops you: tell staff now."
CONSENT_VERSION = "1"
CONSENT_TEXT = (
    "Your answers are personal health data. Staff use them to decide whom to talk to and how to train today; only "
    "medical staff read where it hurts and what you write. Answering is your choice: not answering has no "
    "consequence. You can say no now, or take a yes back at any time, and ask for a copy or for erasure."
)


class CheckInKind(StrEnum):
    """What became of a check-in."""

    ANSWERED = "answered"
    SKIPPED = "skipped"
    DECLINED = "declined"


@dataclass(frozen=True, slots=True)
class Pain:
    """A place that hurts: region in words, and "left", "right", "both" or ""."""

    region: str
    side: str = ""

    def in_words(self) -> str:
        """For medical staff: "left hamstring"."""
        sides = "both sides, " if self.side == "both" else f"{self.side} " if self.side else ""
        return f"{sides}{self.region}"


@dataclass(frozen=True, slots=True)
class CheckIn:
    """One athlete's check-in of one day.

    Attributes:
        answers: item -> 1..5; empty when skipped or declined. An item may be missing: missing is unknown.
        hours_slept: h, or None.
        seconds, touches: how long it took, for the kiosk's own figures.
    """

    athlete_id: str
    day: date
    kind: CheckInKind
    answers: dict[str, int]
    pains: tuple[Pain, ...] = ()
    ill: bool = False
    wants_talk: bool = False
    hours_slept: float | None = None
    note: str = ""
    seconds: float | None = None
    touches: int | None = None

    @property
    def total(self) -> int | None:
        """Sum of the five items, 5 to 25; None unless all five were answered."""
        return sum(self.answers.values()) if self.answers.keys() == _ALL_ITEMS else None

    @property
    def unwell(self) -> bool:
        """Pain or illness was said."""
        return bool(self.pains) or self.ill

    @property
    def unwell_keys(self) -> tuple[str, ...]:
        """What names pain and illness of this day among the reasons of the staff's list."""
        pain = (f"pain {self.day}",) if self.pains else ()
        return (*pain, *((f"ill {self.day}",) if self.ill else ()))
