"""From an athlete's sets to the warm-up history: one observation a session at the fixed warm-up load."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from itertools import groupby

from station.squad.sets import SetObservation, same_load


def warmup_sets(sets: Sequence[SetObservation], warmup_load_kg: float) -> list[SetObservation]:
    """The warm-up set of each session, oldest first.

    The first set at the warm-up load counts, unless a heavier set came before it in the same session:
    then the athlete was no longer fresh, and it is not a warm-up set.

    Args:
        sets: one athlete, one lift, in order of time.
        warmup_load_kg: the fixed load, kg; loads within 2 % are the same.
    """
    found: list[SetObservation] = []
    for _, session in groupby(sets, key=lambda s: (s.day, s.session)):
        for one in session:
            if same_load(one.load_kg, warmup_load_kg):
                found.append(one)
                break
            if one.load_kg > warmup_load_kg:
                break
    return found


def usual_warmup_load(sets: Iterable[SetObservation], before: date) -> float | None:
    """The load with most earlier days, ties to the heavier; None without earlier days."""
    days = {(s.load_kg, s.day) for s in sets if s.day < before}
    loads = Counter(load for load, _ in days)
    pooled = {load: sum(n for other, n in loads.items() if same_load(load, other)) for load in loads}
    return max(pooled, key=lambda load: (pooled[load], load), default=None)
