"""A set measured again beside what was measured, before somebody accepts it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from station.capture.old_beside_new import pair_reps
from station.capture.rack_view import RepStatus
from station.capture.review_desk import measurement_name
from station.capture.see_again import SeenAgain
from station.store.rows import NewRep, RepRow
from station.store.set_detail import SetDetail

SAME_M_S = 0.005


@dataclass(frozen=True, slots=True)
class PairLine:
    """One rep as it was and as today's engine finds it; None where one of them has none."""

    then_name: str
    then_m_s: float | None
    then_words: str
    now_m_s: float | None
    now_words: str


@dataclass(frozen=True, eq=False, slots=True)
class OldBesideNew:
    """A set measured again, before somebody accepts it.

    Attributes:
        pairs: in order of time.
        same: nothing differs by as much as a hundredth of a metre a second.
        best_then_m_s, best_now_m_s: the fastest counted rep, None without any.
    """

    set_id: str
    seen: SeenAgain
    pairs: tuple[PairLine, ...]
    same: bool
    holds_already: bool
    best_then_m_s: float | None
    best_now_m_s: float | None


def old_beside_new(detail: SetDetail, seen: SeenAgain) -> OldBesideNew:
    """Reps paired by when they happened; one that a person struck out stays struck."""
    old = [rep.row for rep in detail.now]
    paired = pair_reps(old, seen.reps)
    pairs = tuple(_pair(then, seen.reps[place] if place is not None else None) for then, place in paired)
    same = all(
        p.then_m_s is not None and p.now_m_s is not None and abs(p.then_m_s - p.now_m_s) < SAME_M_S
        for p in pairs
    )
    counted = [seen.reps[at] for then, at in paired if at is not None and (then is None or not then.struck)]
    return OldBesideNew(
        detail.set.set_id,
        seen,
        pairs,
        same and bool(pairs),
        detail.measured_by == measurement_name(seen.reps),
        _best([row for row in old if not row.struck]),
        _best(counted),
    )


def _best(reps: Sequence[RepRow | NewRep]) -> float | None:
    sure = [rep.mean_velocity_m_s for rep in reps if rep.status == RepStatus.MEASURED]
    return max((speed for speed in sure if speed is not None), default=None)


def _pair(then: RepRow | None, now: NewRep | None) -> PairLine:
    struck = "struck out" if then is not None and then.struck else ""
    found = "" if now is None else now.why or ("" if now.status == RepStatus.MEASURED else now.status)
    return PairLine(
        "" if then is None else str(then.number or "–"),
        None if then is None else then.mean_velocity_m_s,
        "not there" if then is None else struck or then.why,
        None if now is None else now.mean_velocity_m_s,
        "not found" if now is None else "stays struck out" if struck else found,
    )
