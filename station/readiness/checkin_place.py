"""Today's answers beside the athlete's own: the sum with its chance, each item with its z and its rank.

Answers are ordinal. The sum of five is treated as a number on a scale of whole steps: half a step is added before its
chance is read, and its spread is never taken for less than half a step an item. A single item is given as what it
is, a rank: on how many own days it was as low.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from station.readiness.own_usual import OwnUsual, own_usual, pooled_sd
from station.squad.checkins import ITEMS, CheckIn

# With answers of 1 to 5 the own SD is often 0 or 0.3 to 0.8: without a floor z explodes (common practice).
ITEM_SD_FLOOR = 0.5
SUM_SD_FLOOR = ITEM_SD_FLOOR * sqrt(len(ITEMS))
USUAL_SUM_SD = 2.0  # an assumption until the squad's own answers say more
HALF_A_STEP = 0.5
DAYS_USED = 28  # two to six weeks are usual; today is not among them


@dataclass(frozen=True, slots=True)
class ItemPlace:
    """One answer among the athlete's own.

    Attributes:
        z: distance from the own mean, with the floor on the SD; None without earlier answers.
        as_low, of: on how many of the earlier days the answer was as low or lower.
    """

    item: str
    answer: int
    usual: float | None
    z: float | None
    as_low: int
    of: int


@dataclass(frozen=True, slots=True)
class SumPlace:
    """The sum of the five answers among the athlete's own.

    Attributes:
        chance_below: of a sum this low or lower when nothing has changed; None with too little history.
    """

    total: int
    usual: OwnUsual | None
    chance_below: float | None
    items: tuple[ItemPlace, ...]


def place_check_in(today: CheckIn, earlier: Sequence[CheckIn], squad_sd: float) -> SumPlace | None:
    """Where today's answers stand; None unless all five were given.

    Args:
        earlier: the athlete's own check-ins of earlier days, oldest first.
        squad_sd: from `sum_sd`.
    """
    total = today.total
    if total is None:
        return None
    known_sums = [(one, float(t)) for one in earlier if (t := one.total) is not None][-DAYS_USED:]
    used = [one for one, _ in known_sums]
    usual = own_usual([t for _, t in known_sums], squad_sd, SUM_SD_FLOOR)
    known = usual is not None and usual.enough
    chance = usual.chance_at_most(total + HALF_A_STEP) if usual is not None and known else None
    return SumPlace(total, usual, chance, tuple(_item(today, used, item.key) for item in ITEMS))


def sum_sd(histories: Sequence[Sequence[CheckIn]]) -> float:
    """The squad's day-to-day spread of the sum."""
    return pooled_sd(
        ([float(t) for one in own[-DAYS_USED:] if (t := one.total) is not None] for own in histories),
        USUAL_SUM_SD,
    )


def _item(today: CheckIn, earlier: Sequence[CheckIn], key: str) -> ItemPlace:
    answer = today.answers[key]
    own = [one.answers[key] for one in earlier if key in one.answers]
    if not own:
        return ItemPlace(key, answer, None, None, 0, 0)
    mean = sum(own) / len(own)
    spread = sqrt(sum((a - mean) ** 2 for a in own) / (len(own) - 1)) if len(own) > 1 else 0.0
    z = (answer - mean) / max(spread, ITEM_SD_FLOOR)
    return ItemPlace(key, answer, mean, z, sum(a <= answer for a in own), len(own))
