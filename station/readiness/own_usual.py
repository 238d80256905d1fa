"""Where an athlete's own next value is expected when nothing has changed: for jumps and check-ins.

A normal level with an unknown spread: the own spread is estimated together with the squad's, which counts as a few
days of the athlete's own, and the next value follows Student's t (k = t sqrt(1 + 1/n), so that a short history does
not call false more often than a long one).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

COVERAGE = 0.80
ENOUGH_DAYS = 3
# The squad's spread counts as so many days of the athlete's own.
SQUAD_WEIGHT = 10.0


@dataclass(frozen=True, slots=True)
class OwnUsual:
    """The own level and spread, without today.

    Attributes:
        mean, sd: level, and standard deviation of the next value (the uncertainty of the level included).
        days: earlier days it rests on.
        freedom: of Student's t.
    """

    mean: float
    sd: float
    days: int
    freedom: float

    @property
    def enough(self) -> bool:
        """At least three earlier days."""
        return self.days >= ENOUGH_DAYS

    @property
    def low(self) -> float:
        """Lower edge of the usual range (80 %)."""
        return self.mean - self._half

    @property
    def high(self) -> float:
        """Upper edge of the usual range (80 %)."""
        return self.mean + self._half

    @property
    def _half(self) -> float:
        return float(special.stdtrit(self.freedom, 0.5 + COVERAGE / 2)) * self.sd

    def chance_at_most(self, value: float) -> float:
        """The chance of a value this low or lower when nothing has changed."""
        return float(special.stdtr(self.freedom, (value - self.mean) / self.sd))

    def z(self, value: float) -> float:
        """Distance from the level in standard deviations of the next value."""
        return (value - self.mean) / self.sd


def own_usual(earlier: Sequence[float], squad_sd: float, least_sd: float) -> OwnUsual | None:
    """What is usual for one athlete; None without any earlier day.

    Args:
        earlier: the values of days that can be compared, today's not among them.
        squad_sd: a usual day-to-day spread, from `pooled_sd`.
        least_sd: the spread is never taken for smaller (a coarse scale, a measurement's own error).
    """
    n = len(earlier)
    if n == 0:
        return None
    values = np.asarray(earlier, dtype=float)
    squares = float(((values - values.mean()) ** 2).sum())
    freedom = n - 1 + SQUAD_WEIGHT
    variance = max((squares + SQUAD_WEIGHT * squad_sd**2) / freedom, least_sd**2)
    return OwnUsual(float(values.mean()), float(np.sqrt(variance * (1.0 + 1.0 / n))), n, freedom)


def pooled_sd(series: Iterable[Sequence[float]], otherwise: float) -> float:
    """The squad's day-to-day spread about each athlete's own level; `otherwise` counts as ten days.

    Args:
        series: each athlete's comparable days.
    """
    squares, freedom = 10 * otherwise**2, 10.0
    for one in series:
        if len(one) > 1:
            values = np.asarray(one, dtype=float)
            squares += float(((values - values.mean()) ** 2).sum())
            freedom += len(one) - 1
    return float(np.sqrt(squares / freedom))
