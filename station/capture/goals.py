"""What a coach chooses at the rack for one athlete and lift: where a set stops, and the target band of velocity."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from station.capture.rack_view import Band, RackPlan
from station.store.record import Record
from station.store.roster import LiftPlan, plan_rows


def with_goal(plan: RackPlan, stop_loss: float | None, band_m_s: Band | None) -> RackPlan:
    """The same plan with another stop and target."""
    return replace(plan, stop_loss=stop_loss, target_band_m_s=band_m_s)


def keep_goal(record: Record, plan: RackPlan, day: date, staff: str) -> None:
    """Write stop and target of this plan down, from this day on."""
    made = LiftPlan(
        plan.lift,
        plan.warmup_load_kg,
        plan.planned_load_kg,
        plan.ceiling_kg,
        day,
        plan.athlete_id,
        "",
        plan.work_sets,
        plan.stop_loss,
    )
    low, high = plan.target_band_m_s or (None, None)
    target = {
        "athlete_id": plan.athlete_id,
        "lift": plan.lift,
        "target_low_m_s": low,
        "target_high_m_s": high,
    }
    record.add_rows("lift_plans", plan_rows([made], staff))
    record.add_rows("lift_targets", [target | {"velocity_at_1rm_m_s": plan.own_velocity_at_1rm_m_s}])
