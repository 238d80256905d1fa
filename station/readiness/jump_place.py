"""Today's jumps beside the athlete's own days like today: the mean of the trials, in its usual range.

Like days only: the same number of days after a match, played or not; without a match in the last seven days, every
day at least four after one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from station.readiness.own_usual import OwnUsual, own_usual, pooled_sd
from station.squad.calendar import AfterMatch
from station.squad.jumps import JumpDay

# Typical errors of jump height between days are about 0.01 to 0.02 m (CV 3 to 6 %; from memory).
USUAL_DAY_SD_M = 0.015
LEAST_DAY_SD_M = 0.006  # the sensor's own error in the mean of a few trials
DAYS_USED = 16  # the latest ones: an older level is another


@dataclass(frozen=True, slots=True)
class JumpPlace:
    """A day's mean height among the athlete's own.

    Attributes:
        chance_below: of a mean this low or lower when nothing has changed; None with too little history.
    """

    day: JumpDay
    usual: OwnUsual | None
    chance_below: float | None


def usual_jump(earlier: Sequence[JumpDay], after: AfterMatch, squad_sd_m: float) -> OwnUsual | None:
    """The usual range of a day's mean height on a day of that kind; None without any like day."""
    like = [one.mean_m for one in earlier if after.like(one.after)][-DAYS_USED:]
    return own_usual(like, squad_sd_m, LEAST_DAY_SD_M)


def place_jump(today: JumpDay, earlier: Sequence[JumpDay], squad_sd_m: float) -> JumpPlace:
    """Where a day's jumps stand among earlier days like it."""
    usual = usual_jump(earlier, today.after, squad_sd_m)
    known = usual is not None and usual.enough
    return JumpPlace(
        today, usual, usual.chance_at_most(today.mean_m) if usual is not None and known else None
    )


def jump_sd_m(histories: Iterable[Sequence[JumpDay]]) -> float:
    """The squad's day-to-day spread of the mean height on like days, m."""
    series: list[list[float]] = []
    for own in histories:
        kinds: dict[AfterMatch, list[float]] = {}
        for one in own[-4 * DAYS_USED :]:
            kinds.setdefault(one.after, []).append(one.mean_m)
        series += [heights[-DAYS_USED:] for heights in kinds.values()]
    return pooled_sd(series, USUAL_DAY_SD_M)
