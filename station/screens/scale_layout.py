"""Arithmetic of the velocity scale: its range, where labels stand so that none covers another. No Qt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from station.capture.rack_view import RackView, RepStatus, RepView
from station.readiness.results import UsualRange
from station.screens.wording import loaded_for_next

STEP_M_S = 0.1
MARGIN_M_S = 0.03
SHORTEST_M_S = 0.4


@dataclass(frozen=True, slots=True)
class ScaleRange:
    """The stretch of velocities that is drawn, m/s."""

    low_m_s: float
    high_m_s: float

    def position(self, velocity_m_s: float) -> float:
        """Where a velocity stands, 0 at the low end to 1 at the high end; outside is held at the ends."""
        share = (velocity_m_s - self.low_m_s) / (self.high_m_s - self.low_m_s)
        return min(1.0, max(0.0, share))


def stop_velocity_m_s(view: RackView) -> float | None:
    """The velocity at which the chosen loss is reached, m/s."""
    if view.set is None or view.set.stop_loss is None or view.set.best_m_s is None:
        return None
    return view.set.best_m_s * (1.0 - view.set.stop_loss)


def marks_of(view: RackView) -> tuple[UsualRange | None, tuple[float, float] | None]:
    """Usual range and target band, when they are for the load that the shown reps were lifted with."""
    return (None, None) if loaded_for_next(view) else (view.usual, view.target_band_m_s)


def placed_reps(view: RackView) -> tuple[RepView, ...]:
    """The reps that have a mean velocity and so a place on the scale."""
    reps = view.set.reps if view.set else ()
    return tuple(rep for rep in reps if rep.mean_velocity_m_s is not None)


def scale_range(view: RackView) -> ScaleRange:
    """The range that holds the usual range, the target, the stop and every rep that counts, on round tenths."""
    counted = (rep for rep in placed_reps(view) if rep.status not in (RepStatus.STRUCK, RepStatus.FAILED))
    values = [rep.mean_velocity_m_s for rep in counted if rep.mean_velocity_m_s is not None]
    usual, target = marks_of(view)
    values += [usual.low_m_s, usual.high_m_s] if usual else []
    values += list(target or ())
    stop = stop_velocity_m_s(view)
    values += [] if stop is None else [stop]
    if not values:
        return ScaleRange(0.2, 1.0)
    low = math.floor((min(values) - MARGIN_M_S) / STEP_M_S + 1e-9) * STEP_M_S
    high = math.ceil((max(values) + MARGIN_M_S) / STEP_M_S - 1e-9) * STEP_M_S
    if high - low < SHORTEST_M_S:
        low = max(0.0, low - STEP_M_S)
        high = max(high, low + SHORTEST_M_S)
    return ScaleRange(max(0.0, round(low, 6)), round(high, 6))


def spread(
    centres: Sequence[float], widths: Sequence[float], left: float, right: float, gap: float
) -> list[float]:
    """Left edges for labels that want to stand centred on `centres` without touching each other.

    Labels are kept in the order of their centres and inside left..right as far as they fit.
    """
    order = sorted(range(len(centres)), key=lambda i: centres[i])
    edges = [0.0] * len(centres)
    free_from = left
    for i in order:
        edges[i] = max(centres[i] - widths[i] / 2, free_from)
        free_from = edges[i] + widths[i] + gap
    limit = right
    for i in reversed(order):
        edges[i] = min(edges[i], limit - widths[i])
        limit = edges[i] - gap
    return edges


def in_rows(
    centres: Sequence[float],
    widths: Sequence[float],
    gap: float,
    taken: Sequence[Sequence[tuple[float, float]]],
) -> list[int | None]:
    """A row for each label such that none in a row touch; the later ones win a place, the rest get none.

    Args:
        centres, widths: the labels, pixels.
        gap: least room between two labels of a row.
        taken: for each row the spans (left, right) that are not free.
    """
    rows = [list(spans) for spans in taken]
    found: list[int | None] = [None] * len(centres)
    for i in reversed(range(len(centres))):
        low, high = centres[i] - widths[i] / 2, centres[i] + widths[i] / 2
        for row, spans in enumerate(rows):
            if all(high + gap <= left or low - gap >= right for left, right in spans):
                spans.append((low, high))
                found[i] = row
                break
    return found
