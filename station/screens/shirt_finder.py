"""Anybody by shirt number: digits, then Enter. Two athletes may wear one number; then both are offered."""

from __future__ import annotations

from dataclasses import dataclass

from station.capture.rack_view import AthleteTile, RackView

MOST_DIGITS = 3


@dataclass(frozen=True, slots=True)
class Found:
    """What a typed number leads to; `words` is for the person who typed."""

    athletes: tuple[AthleteTile, ...]
    words: str


class ShirtFinder:
    """Collects digits until Enter."""

    def __init__(self) -> None:
        self.typed = ""

    def add(self, digit: str) -> None:
        """One more digit; a fourth begins again."""
        self.typed = digit if len(self.typed) >= MOST_DIGITS else self.typed + digit

    def clear(self) -> None:
        """Forget what was typed."""
        self.typed = ""

    def enter(self, view: RackView) -> Found:
        """Who wears the typed number, the group at this rack first."""
        number, self.typed = int(self.typed or -1), ""
        known = {a.athlete_id: a for a in (*view.group, *view.squad)}
        athletes = tuple(a for a in known.values() if a.shirt_number == number)
        words = "" if athletes else f"Nobody here wears {number}. Touch a name, or type another number."
        return Found(athletes, words)
