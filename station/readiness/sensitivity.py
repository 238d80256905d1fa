"""What a warm-up load can show: the drop of strength that would just be seen, and which heavier load shows more.

Light loads show little: at half of the maximum 5 % of strength move the squat by about 0.036 m/s, one day-to-day SD.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from station.readiness.plates import load_words
from station.readiness.prior import NO_SQUAD, SquadPrior
from station.readiness.results import UsualRange
from station.readiness.usual import athlete_model, counted_warmups, range_of
from station.squad.sets import SetObservation

# A worse warm-up load than this is pointed out.
SHOWS_TOO_LITTLE_BEYOND = 0.07
_STEP_KG = 2.5
_HEAVIEST_SHARE = 1.6  # of the warm-up load; further is no warm-up any more


@dataclass(frozen=True, slots=True)
class WarmupShows:
    """What one fixed load can show of one athlete.

    Attributes:
        strength_drop: the share of strength whose loss puts the expected velocity on the lower edge of the usual
            range; None where the line is not known to fall.
        enough: not worse than 7 %.
        better_load_kg: the lightest heavier load at which 7 % would do; None when this one does or none does.
    """

    strength_drop: float | None
    enough: bool
    better_load_kg: float | None

    def in_words(self, load_kg: float, unit: str = "kg") -> str:
        """One sentence for the plan screen; "" where nothing is to be said."""
        if self.strength_drop is None or self.enough:
            return ""
        words = f"{load_words(load_kg, unit)} shows a loss of strength only from {100 * self.strength_drop:.0f} % on"
        return (
            f"{words}; {load_words(self.better_load_kg, unit)} would do."
            if self.better_load_kg
            else f"{words}."
        )


def strength_drop(edge_below_m_s: float, fall_m_s: float) -> float | None:
    """The loss of strength that slows this load by that much; `fall_m_s` is minus slope times load.

    With the velocity without load unchanged, a maximum that becomes M (1 - d) makes the line steeper by 1 / (1 - d).
    """
    if fall_m_s <= 0.0:
        return None
    return edge_below_m_s / (fall_m_s + edge_below_m_s)


def warmup_shows(
    earlier: Sequence[SetObservation],
    warmup_load_kg: float,
    day: date,
    prior: SquadPrior = NO_SQUAD,
    usual: UsualRange | None = None,
) -> WarmupShows:
    """What the warm-up load can show of this athlete, and the heavier load that would do.

    Args:
        earlier: one athlete and lift, in order of time.
        usual: today's usual range at the load, where it is known already.
    """
    model = athlete_model(earlier, [], warmup_load_kg, day, prior)
    fall = model.today().mean[1]
    usual = usual or range_of(model, len(counted_warmups(earlier, warmup_load_kg)))
    half = usual.expected_m_s - usual.low_m_s
    drop = strength_drop(half, float(fall))
    enough = drop is not None and drop <= SHOWS_TOO_LITTLE_BEYOND
    return WarmupShows(
        drop, enough, None if enough or drop is None else _better_load_kg(half, float(fall), warmup_load_kg)
    )


def _better_load_kg(half_m_s: float, fall_m_s: float, load_kg: float) -> float | None:
    """The lightest load of whole plates that shows 7 %, once it has a history as long as this one's."""
    needed = half_m_s * (1.0 - SHOWS_TOO_LITTLE_BEYOND) / SHOWS_TOO_LITTLE_BEYOND / fall_m_s * load_kg
    better = _STEP_KG * float(np.ceil(needed / _STEP_KG - 1e-9))
    return better if better <= _HEAVIEST_SHARE * load_kg else None
