"""Jumps as the statistics see them: an athlete's day is the mean of the valid trials (more sensitive than the best).

Claudino et al. 2017, J Sci Med Sport 20(4):397-402, doi 10.1016/j.jsams.2016.08.011: averaging beats the best trial.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from station.squad.calendar import AfterMatch


@dataclass(frozen=True, slots=True)
class JumpTrial:
    """One trial. Heights in m, times in s.

    Attributes:
        valid: counts; else `why` says in words what to do better.
        reactive_strength_m_s: height over time to take-off (modified reactive strength index), m/s.
    """

    trial_id: str
    athlete_id: str | None
    day: date
    height_m: float
    from_flight_m: float
    from_impulse_m: float
    uncertainty_m: float | None
    depth_m: float | None
    time_to_takeoff_s: float | None
    flags: tuple[str, ...] = ()
    valid: bool = True
    why: str = ""

    @property
    def reactive_strength_m_s(self) -> float | None:
        """Height over time to take-off, m/s; None where the start of the countermovement is unknown."""
        return reactive_strength(self.height_m, self.time_to_takeoff_s)


@dataclass(frozen=True, slots=True)
class JumpDay:
    """One athlete's jumps of one day: mean and best of the valid trials, m.

    Attributes:
        after: what kind of day it was.
    """

    athlete_id: str
    day: date
    mean_m: float
    best_m: float
    trials: int
    after: AfterMatch


def reactive_strength(height_m: float, time_to_takeoff_s: float | None) -> float | None:
    """Modified reactive strength index: jump height over time to take-off, m/s."""
    if time_to_takeoff_s is None or time_to_takeoff_s <= 0:
        return None
    return height_m / time_to_takeoff_s


def mean_and_best(trials: Iterable[JumpTrial]) -> tuple[float, float] | None:
    """Mean and best height of the valid trials, m; None without any."""
    heights = [t.height_m for t in trials if t.valid]
    return (sum(heights) / len(heights), max(heights)) if heights else None
