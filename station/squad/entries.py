"""The staff list's entries as they are handled: taken and closed, by whom, when, with one word of outcome."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

EntryDone = Literal["taken", "closed", "reopened"]


@dataclass(frozen=True, slots=True)
class EntryEvent:
    """One thing done about an athlete's entry.

    Attributes:
        outcome: one word, for all staff; `medical_note` is for medical staff alone.
        seen: the keys of the reasons that stood there then; any other reason later is new.
    """

    athlete_id: str
    day: date
    event: EntryDone
    staff: str
    at: datetime
    outcome: str = ""
    medical_note: str = ""
    seen: tuple[str, ...] = ()


def closed_reasons(events: Sequence[EntryEvent]) -> frozenset[str]:
    """The reasons that have been dealt with: seen when an entry was closed, and not opened again since."""
    done: set[str] = set()
    for event in events:
        if event.event == "closed":
            done |= set(event.seen)
        elif event.event == "reopened":
            done -= set(event.seen)
    return frozenset(done)


def last_on(events: Sequence[EntryEvent], day: date) -> EntryEvent | None:
    """The last thing done about an entry on a day."""
    own = [event for event in events if event.day == day]
    return own[-1] if own else None
