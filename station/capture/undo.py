"""What people at the rack did last, so that it can be taken back, newest first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class _Step:
    take_back: Callable[[], None]
    until_next_set: bool


class UndoStack:
    """Steps that can be taken back.

    Whose turn it is, the load on the bar and the end of a set are taken back only until the next set begins: then
    they are what that set was lifted with, and a correction of the set is the way.
    """

    def __init__(self) -> None:
        self._steps: list[_Step] = []

    def add(self, take_back: Callable[[], None], *, until_next_set: bool = False) -> None:
        """Somebody did something."""
        self._steps.append(_Step(take_back, until_next_set))

    def set_begins(self) -> None:
        """What only prepared the set stays as it is."""
        self._steps = [step for step in self._steps if not step.until_next_set]

    @property
    def possible(self) -> bool:
        """Whether there is anything to take back."""
        return bool(self._steps)

    def undo(self) -> bool:
        """Take the newest step back; False when there is none."""
        if not self._steps:
            return False
        self._steps.pop().take_back()
        return True
