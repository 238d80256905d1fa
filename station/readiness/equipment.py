"""Changes of sensor or bar: which sessions can be compared as if nothing had been exchanged.

A change is a mark on the history. The model gives each stretch of the same equipment an own offset, so that the
range is wider after a change; once the first two sessions after it agree with those before, the offset is dropped.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import special

from station.readiness.prior import SquadPrior
from station.squad.sets import SetObservation, same_load

AGREEING_SESSIONS = 2
_COMPARED_WITH = 6


def equipment_epochs(
    sets: Sequence[SetObservation], warmup_load_kg: float, today: str, prior: SquadPrior
) -> list[int]:
    """A number for each set's stretch of equipment; that of today is 0.

    Args:
        sets: fresh sets in order of time. Unknown equipment ("") is taken to be what it was before.
        today: what is in use now; "" when unknown.
    """
    stretches = [0] * len(sets)
    stretch, in_use = 0, ""
    for n, one in enumerate(sets):
        stretch += bool(in_use and one.equipment and one.equipment != in_use)
        in_use = one.equipment or in_use
        stretches[n] = stretch
    now = stretch + bool(in_use and today and today != in_use)
    merged = _merged(sets, stretches, now, warmup_load_kg, prior)
    return [merged[now] - merged[s] for s in stretches]


def _merged(
    sets: Sequence[SetObservation],
    stretches: Sequence[int],
    now: int,
    warmup_load_kg: float,
    prior: SquadPrior,
) -> list[int]:
    """For each stretch a number; the same as the one before where two sessions agreed with that."""
    numbers = [0]
    for stretch in range(1, now + 1):
        before, after = (
            [
                one.mean_velocity_m_s
                for one, own in zip(sets, stretches, strict=True)
                if own == which and same_load(one.load_kg, warmup_load_kg)
            ]
            for which in (stretch - 1, stretch)
        )
        numbers.append(numbers[-1] + (0 if _agree(before[-_COMPARED_WITH:], after, prior) else 1))
    return numbers


def _agree(before: Sequence[float], after: Sequence[float], prior: SquadPrior) -> bool:
    """The first two sessions after a change both lie where the ones before it expect them (80 %)."""
    if len(before) < AGREEING_SESSIONS or len(after) < AGREEING_SESSIONS:
        return False
    sd = prior.session_sd_m_s * float(np.sqrt(1.0 + 1.0 / len(before)))
    off = np.abs(np.array(after[:AGREEING_SESSIONS]) - np.mean(before))
    return bool((off <= special.ndtri(0.9) * sd).all())
