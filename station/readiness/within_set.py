"""Within a set: loss of velocity against a chosen stop, the target band, and repetitions left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from station.readiness.line import fit_line

LEAST_STOP, MOST_STOP = 0.10, 0.40
# Sets taken to the limit that an athlete must have done before repetitions left are spoken of, and how wide the
# estimate may be: agreement of work done at a given loss across sessions is poor between people and days (Jukic et
# al. 2023, doi 10.1186/s40798-023-00626-z), so only the athlete's own sets are believed.
SETS_TO_THE_LIMIT_NEEDED = 3
WIDEST_REPS = 2.0


def velocity_loss(velocities_m_s: Sequence[float]) -> float | None:
    """(best so far - last) / best so far; None before the second rep. The base is the set's own fastest rep."""
    if len(velocities_m_s) < 2:
        return None
    best = max(velocities_m_s)
    return (best - velocities_m_s[-1]) / best


def stop_reached(velocities_m_s: Sequence[float], stop_loss: float) -> bool:
    """Whether the last rep has lost as much as the chosen stop.

    Raises:
        ValueError: the stop is not between 10 and 40 %.
    """
    if not LEAST_STOP <= stop_loss <= MOST_STOP:
        raise ValueError(f"a stop lies between 10 and 40 % of velocity loss, not at {100 * stop_loss:g} %")
    loss = velocity_loss(velocities_m_s)
    return loss is not None and loss >= stop_loss - 1e-9


def in_band(velocity_m_s: float, band_m_s: tuple[float, float]) -> str:
    """Where a rep lies: "below", "in" or "above" the target band."""
    low, high = band_m_s
    return "below" if velocity_m_s < low else "above" if velocity_m_s > high else "in"


@dataclass(frozen=True, slots=True)
class RepsLeft:
    """How many further reps the athlete could do, with the 80 % interval; for the coach's eyes only."""

    expected: float
    low: float
    high: float


def reps_left(losses_so_far: Sequence[float], to_the_limit: Sequence[Sequence[float]]) -> RepsLeft | None:
    """Repetitions left from the loss of velocity, as the athlete's own sets to the limit had it.

    In a set of n reps taken to the limit, rep k leaves n - k; a line of reps left on loss is drawn through all reps
    of such sets.

    Args:
        losses_so_far: of the running set, one a rep (0 for the fastest); the last one is asked about.
        to_the_limit: velocities of the athlete's own earlier sets whose last rep was the last possible, m/s.

    Returns:
        None without three such sets, or where their 80 % interval is wider than two reps on each side.
    """
    if len(to_the_limit) < SETS_TO_THE_LIMIT_NEEDED or not losses_so_far:
        return None
    losses, left = _points(to_the_limit)
    if len(losses) < 6 or len(np.unique(losses)) < 2:
        return None
    line = fit_line(losses, left)
    direction = np.array([1.0, losses_so_far[-1]])
    sd = float(np.sqrt(direction @ line.covariance @ direction + line.residual_sd_m_s**2))
    half = float(special.stdtrit(len(losses) - 2, 0.9)) * sd
    expected = max(line.velocity_m_s(losses_so_far[-1]), 0.0)
    if half > WIDEST_REPS or line.slope_m_s_per_kg >= 0.0:
        return None
    return RepsLeft(expected, max(expected - half, 0.0), expected + half)


def _points(sets: Sequence[Sequence[float]]) -> tuple[list[float], list[float]]:
    """Loss of velocity and reps left at every rep from the second on."""
    losses: list[float] = []
    left: list[float] = []
    for velocities in sets:
        for k in range(2, len(velocities) + 1):
            losses.append(velocity_loss(velocities[:k]) or 0.0)
            left.append(float(len(velocities) - k))
    return losses, left
