"""What a rack starts with: its name, group, plans and plates, out of the record."""

from __future__ import annotations

from dataclasses import dataclass

from station.capture.rack_view import Figure, RackPlan, Unit
from station.readiness.plates import KG_RACK, PlateSet
from station.squad.athletes import Athlete
from station.squad.lifts import Lift, lift_named
from station.store.record import Record


@dataclass(frozen=True, slots=True)
class RackSetup:
    """One rack for one session.

    Attributes:
        group: in lifting order.
        plans: by athlete.
        staff: who may sign in.
        squad: everybody, for the squad's prior and for names.
    """

    name: str
    lift: Lift
    group: tuple[Athlete, ...]
    squad: tuple[Athlete, ...]
    plans: dict[str, RackPlan]
    staff: tuple[str, ...] = ()
    plates: PlateSet = KG_RACK
    unit: Unit = "kg"
    figure: Figure = "mean"
    data_note: str = ""


def setup_from_record(record: Record, data_note: str = "", default_lift: str = "back squat") -> RackSetup:
    """Group and plans of this rack as the record has them; an empty record gives an empty rack."""
    squad = tuple(record.athletes())
    group = tuple(a for a in squad if a.group == record.rack)
    rows = record.plans()
    plans = {
        row["athlete_id"]: RackPlan(
            row["athlete_id"],
            row["lift"],
            row["warmup_load_kg"],
            row["planned_load_kg"],
            row["ceiling_kg"],
            row["work_sets"],
            row["stop_loss"],
        )
        for row in rows
    }
    here = [plans[a.athlete_id].lift for a in group if a.athlete_id in plans]
    lift = lift_named(here[0] if here else default_lift)
    return RackSetup(record.rack, lift, group, squad, plans, tuple(record.staff_names()), data_note=data_note)
