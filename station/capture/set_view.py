"""The open set as the screen shows it: its reps, the best, the loss of velocity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from station.capture.rack_view import RepStatus, RepView, SetView
from station.readiness.within_set import stop_reached, velocity_loss
from station.store.rows import RepRow

COUNTED = (RepStatus.MEASURED, RepStatus.UNCERTAIN)


@dataclass(frozen=True, slots=True)
class SetFacts:
    """What is known of a set besides its reps."""

    set_id: str
    load_kg: float
    kind: Literal["warm-up", "work"]
    number: int
    is_open: bool
    stop_loss: float | None
    not_full_effort: bool


def rep_view(row: RepRow) -> RepView:
    """One rep of the record as the screen shows it."""
    status = RepStatus.STRUCK if row.struck else RepStatus(row.status)
    return RepView(
        row.rep_id,
        row.number,
        status,
        row.mean_velocity_m_s,
        row.mean_propulsive_velocity_m_s,
        row.peak_velocity_m_s,
        row.displacement_m,
        row.uncertainty_m_s,
        row.why,
    )


def set_view(facts: SetFacts, rows: Sequence[RepRow]) -> SetView:
    """The set with its reps; struck and failed reps are shown but neither best nor loss rests on them."""
    reps = tuple(rep_view(row) for row in rows)
    counted = [r.mean_velocity_m_s for r in reps if r.status in COUNTED and r.mean_velocity_m_s is not None]
    loss = velocity_loss(counted)
    reached = facts.stop_loss is not None and stop_reached(counted, facts.stop_loss)
    return SetView(
        facts.set_id,
        facts.kind,
        facts.number,
        facts.is_open,
        reps,
        max(counted, default=None),
        loss,
        facts.stop_loss if facts.kind == "work" else None,
        reached and facts.kind == "work",
        facts.not_full_effort,
        facts.load_kg,
    )
