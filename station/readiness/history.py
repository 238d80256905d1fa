"""From an athlete's sets to the history: which sets of a session are fresh, and which is the warm-up set."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby
from statistics import median

from station.squad.sets import SetObservation, same_load

# A rep over another range of motion is another lift: its speed cannot be compared.
DIFFERENT_DEPTH = 0.10
_DEPTHS_KNOWN_FROM = 3


def sessions_of(sets: Sequence[SetObservation]) -> list[list[SetObservation]]:
    """The sets grouped by day and session, in the order given."""
    return [list(group) for _, group in groupby(sets, key=lambda s: (s.day, s.session))]


def warmup_sets(sets: Sequence[SetObservation], warmup_load_kg: float) -> list[SetObservation]:
    """The warm-up set of each session, oldest first.

    The first set at the warm-up load counts, unless a heavier set came before it in the same session:
    then the athlete was no longer fresh, and it is not a warm-up set.

    Args:
        sets: one athlete, one lift, in order of time.
        warmup_load_kg: the fixed load, kg; loads within 2 % are the same.
    """
    found = (_warmup_set(session, warmup_load_kg) for session in sessions_of(sets))
    return [one for one in found if one is not None]


def _warmup_set(session: Sequence[SetObservation], warmup_load_kg: float) -> SetObservation | None:
    for one in session:
        if same_load(one.load_kg, warmup_load_kg):
            return one
        if one.load_kg > warmup_load_kg:
            return None
    return None


def fresh_sets(session: Sequence[SetObservation]) -> list[SetObservation]:
    """The sets of one session on its way up: each heavier than every set before it, and counting."""
    found: list[SetObservation] = []
    heaviest = 0.0
    for one in session:
        if one.load_kg > heaviest and not same_load(one.load_kg, heaviest):
            heaviest = one.load_kg
            if one.counts:
                found.append(one)
    return found


def usual_warmup_load(sets: Iterable[SetObservation], before: date) -> float | None:
    """The load with most earlier days (loads within 2 % together), ties to the heavier; None without any."""
    days: dict[float, set[date]] = {}
    for one in sets:
        if one.day < before:
            days.setdefault(one.load_kg, set()).add(one.day)
    alike = {load: [days[other] for other in days if same_load(load, other)] for load in days}
    return max(days, key=lambda load: (len(set().union(*alike[load])), load), default=None)


def usual_depth_m(earlier: Iterable[SetObservation]) -> float | None:
    """The athlete's usual range of motion, m: the median of counted sets; None before three are known."""
    known = [s.displacement_m for s in earlier if s.counts and s.displacement_m]
    return median(known) if len(known) >= _DEPTHS_KNOWN_FROM else None


def different_depth(one: SetObservation, usual_m: float | None) -> bool:
    """Whether a set's range of motion differs from the athlete's usual by more than 10 %."""
    return differs(one.displacement_m, usual_m)


def differs(depth_m: float | None, usual_m: float | None) -> bool:
    """The same for one range of motion, m; what is not known does not differ."""
    if usual_m is None or depth_m is None:
        return False
    return abs(depth_m - usual_m) > DIFFERENT_DEPTH * usual_m


def without_other_depths(sets: Sequence[SetObservation]) -> list[SetObservation]:
    """The same sets, those at a different depth marked as not counting.

    Usual is the median over all of them: one that changes its depth for good has a lift of its own.
    """
    usual = usual_depth_m(sets)
    return [replace(s, counts=False) if different_depth(s, usual) else s for s in sets]
