"""The line: who jumps, who puts the next belt on, who waits, who is done. No touch is needed to go on.

Belts go along the line in turn: with two, one is put on while the other jumps. A turn is over after three valid
trials, or after two once the next belt has jumped or half a minute has passed: its belt goes to the next in line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

TRIALS = 3
ENOUGH_TRIALS = 2
HANDED_OVER_S = 25.0


@dataclass(frozen=True, slots=True)
class JumpQueue:
    """Who wears which belt, and who comes next.

    Attributes:
        waiting: in line, without a belt.
        belts: for each belt the athlete who wears it, or None.
        up: the belt that is up.
        done: who is through, in order.
    """

    waiting: tuple[str, ...]
    belts: tuple[str | None, ...]
    up: int = 0
    done: tuple[str, ...] = ()

    @classmethod
    def of(cls, line: Sequence[str], belts: int) -> JumpQueue:
        """The line at the beginning: the first ones get the belts."""
        worn = tuple(line[n] if n < len(line) else None for n in range(belts))
        return cls(tuple(line[belts:]), worn)

    def jumped(self, belt: int, valid: dict[str, int]) -> JumpQueue:
        """This belt has jumped; `valid` counts the valid trials of each athlete, this one included."""
        queue = replace(self, up=belt)
        for other, athlete_id in enumerate(queue.belts):
            if other != belt and athlete_id is not None and valid.get(athlete_id, 0) >= ENOUGH_TRIALS:
                queue = queue.hand_over(other)
        mine = queue.belts[belt]
        if mine is not None and valid.get(mine, 0) >= TRIALS:
            queue = queue.hand_over(belt)
        return queue

    def quiet(self, for_s: float, valid: dict[str, int]) -> JumpQueue:
        """Nobody has jumped for so long: who has enough trials is done."""
        athlete_id = self.belts[self.up]
        if athlete_id is None or for_s < HANDED_OVER_S or valid.get(athlete_id, 0) < ENOUGH_TRIALS:
            return self
        return self.hand_over(self.up)

    def hand_over(self, belt: int) -> JumpQueue:
        """The athlete who wears this belt is done; it goes to the next in line, and the next belt is up."""
        athlete_id = self.belts[belt]
        done = (*self.done, athlete_id) if athlete_id is not None else self.done
        return replace(self._given_on(belt), done=done)._next_up(belt)

    def later(self) -> JumpQueue:
        """The athlete who is up goes to the end of the line."""
        athlete_id = self.belts[self.up]
        if athlete_id is None:
            return self
        return replace(self, waiting=(*self.waiting, athlete_id))._given_on(self.up)

    def wears(self, athlete_id: str) -> JumpQueue:
        """This athlete wears the belt that is up; who wore it goes back to the head of the line."""
        if athlete_id in self.belts:
            return replace(self, up=self.belts.index(athlete_id))
        before = self.belts[self.up]
        waiting = tuple(a for a in self.waiting if a != athlete_id)
        waiting = waiting if before is None else (before, *waiting)
        belts = tuple(athlete_id if n == self.up else a for n, a in enumerate(self.belts))
        return replace(
            self, waiting=waiting, belts=belts, done=tuple(a for a in self.done if a != athlete_id)
        )

    def with_line(self, line: Sequence[str]) -> JumpQueue:
        """The roster is another now: who joined stands at the end, who is not in it any more waits no longer.

        Args:
            line: everybody who may jump; who wears a belt or is through is left alone.
        """
        elsewhere = {*self.belts, *self.done}
        waiting = tuple(a for a in self.waiting if a in line)
        joined = tuple(a for a in line if a not in elsewhere and a not in waiting)
        waiting = (*waiting, *joined)
        belts = list(self.belts)
        for free in [n for n, a in enumerate(belts) if a is None]:  # a line that was through goes on
            if waiting:
                belts[free], waiting = waiting[0], waiting[1:]
        queue = replace(self, belts=tuple(belts), waiting=waiting)
        return queue if belts[self.up] is not None else queue._next_up(self.up)

    def _given_on(self, belt: int) -> JumpQueue:
        following, waiting = (self.waiting[0], self.waiting[1:]) if self.waiting else (None, ())
        belts = tuple(following if n == belt else a for n, a in enumerate(self.belts))
        return replace(self, belts=belts, waiting=waiting)

    def _next_up(self, belt: int) -> JumpQueue:
        """The next belt in turn that somebody wears."""
        if self.up != belt:
            return self
        order = [(belt + n) % len(self.belts) for n in range(1, len(self.belts) + 1)]
        return replace(self, up=next((n for n in order if self.belts[n] is not None), belt))
