"""Invented jumps and check-ins of a squad with known truth, beside the bars of `squads`.

An athlete has an own level and an own day-to-day spread of jump height, lower on the days after a match, and answers
five items from an own leaning: a state of the day that all items share, an own part of each, rounded to 1 to 5.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivers.samples import FloatArray

ITEMS = 5
# Between-day typical error of jump height about 0.01 to 0.02 m; drop after a match about 3 % on the second day
# (both from memory).
HEIGHT_M, HEIGHT_SD_M = 0.36, 0.05
DAY_SD_M = (0.010, 0.020)
TRIAL_SD_M = 0.008
AFTER_MATCH = {2: 0.97, 3: 0.985}


@dataclass(frozen=True, slots=True)
class JumpTruth:
    """One athlete's jumping: level on a rested day, day-to-day SD of the mean of the trials, m."""

    level_m: float
    day_sd_m: float

    def day_m(self, rng: np.random.Generator, days_after_match: int, *, drop_sds: float = 0.0) -> FloatArray:
        """Three trials of a day, m; `drop_sds` own day-to-day SDs lower than nothing having changed."""
        level = self.level_m * AFTER_MATCH.get(days_after_match, 1.0)
        own = np.sqrt(max(self.day_sd_m**2 - TRIAL_SD_M**2 / 3, 1e-8))
        day = rng.normal(level - drop_sds * self.day_sd_m, own)
        return np.asarray(day + rng.normal(0.0, TRIAL_SD_M, 3))


@dataclass(frozen=True, slots=True)
class AnswerTruth:
    """One athlete's way of answering: the leaning of each item, and the spreads behind the rounding."""

    leanings: FloatArray
    shared_sd: float
    item_sd: float

    def day(self, rng: np.random.Generator, *, drop: float = 0.0) -> list[int]:
        """Five answers, 1 to 5; `drop` is taken off every item before it is rounded."""
        latent = self.leanings + rng.normal(0.0, self.shared_sd) + rng.normal(0.0, self.item_sd, ITEMS)
        return [int(v) for v in np.clip(np.rint(latent - drop), 1, 5)]

    def sum_sd(self, rng: np.random.Generator) -> float:
        """Day-to-day SD of the sum, from many unchanged days."""
        return float(np.std([sum(self.day(rng)) for _ in range(400)]))


def jump_truth(rng: np.random.Generator) -> JumpTruth:
    """One athlete."""
    return JumpTruth(float(rng.normal(HEIGHT_M, HEIGHT_SD_M)), float(rng.uniform(*DAY_SD_M)))


def answer_truth(rng: np.random.Generator) -> AnswerTruth:
    """One athlete."""
    return AnswerTruth(
        rng.normal(3.7, 0.4, ITEMS), float(rng.uniform(0.2, 0.45)), float(rng.uniform(0.35, 0.6))
    )
