"""Errors of the squad's plain data."""

from __future__ import annotations


class UnknownLift(ValueError):
    """A lift's name that the station does not know."""

    def __init__(self, name: str, known: list[str]) -> None:
        super().__init__(f"unknown lift {name!r}; known lifts: {', '.join(known)}")
        self.name = name
        self.known = known
