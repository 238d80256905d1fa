"""A set's reps as they were measured beside what today's engine finds, paired by when they happened."""

from __future__ import annotations

from collections.abc import Sequence

from station.store.rows import NewRep, RepRow

# Two measurements of one rep begin within this of each other once their clocks are laid over one another.
SAME_REP_S = 0.5

Pair = tuple[RepRow | None, int | None]


def pair_reps(old: Sequence[RepRow], new: Sequence[NewRep]) -> list[Pair]:
    """Each rep of either once, in order of time: the old one, and the place of the new one.

    Kept samples begin anew at zero while the rack's clock ran on, so the shift between both is not known: the one at
    which most reps fall together is taken, of several the one with the least left between them.
    """
    shift = _shift([rep.start_time_s for rep in old], [rep.start_time_s for rep in new])
    left = dict(enumerate(new))
    pairs: list[tuple[float, Pair]] = []
    for rep in old:
        at = rep.start_time_s + shift
        near = min(left, key=lambda place: abs(left[place].start_time_s - at), default=None)
        if near is not None and abs(left[near].start_time_s - at) <= SAME_REP_S:
            del left[near]
            pairs.append((at, (rep, near)))
        else:
            pairs.append((at, (rep, None)))
    pairs += [(rep.start_time_s, (None, place)) for place, rep in left.items()]
    return [pair for _, pair in sorted(pairs, key=lambda item: item[0])]


def _shift(old_s: Sequence[float], new_s: Sequence[float]) -> float:
    def worth(shift: float) -> tuple[int, float]:
        nearest = [min(abs(a + shift - b) for b in new_s) for a in old_s]
        near = [gap for gap in nearest if gap <= SAME_REP_S]
        return len(near), -sum(near)

    return max((b - a for a in old_s for b in new_s), key=worth, default=0.0)
