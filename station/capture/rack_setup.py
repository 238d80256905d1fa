"""What a rack starts with: its name, group, plans and plates, out of the record."""

from __future__ import annotations

from dataclasses import dataclass, field

from station.capture.rack_settings import read_settings
from station.capture.rack_view import RackPlan, ScreenSettings
from station.capture.squad_facts import SquadFacts
from station.readiness.plates import KG_RACK, LB_RACK, PlateSet
from station.squad.athletes import Athlete
from station.squad.lifts import Lift, lift_named
from station.store.record import Record


@dataclass(frozen=True, slots=True)
class RackSetup:
    """One rack for one session.

    Attributes:
        group: in lifting order.
        plans: by athlete and lift.
        staff: who may sign in.
        squad: everybody, for the squad's prior and for names.
        bars: weighed bars, (label, kg), the usual one first.
        facts: restrictions, today's answers, who played.
    """

    name: str
    lift: Lift
    group: tuple[Athlete, ...]
    squad: tuple[Athlete, ...]
    plans: dict[tuple[str, str], RackPlan]
    staff: tuple[str, ...] = ()
    plates: PlateSet = KG_RACK
    settings: ScreenSettings = field(default_factory=ScreenSettings)
    data_note: str = ""
    bars: tuple[tuple[str, float], ...] = ()
    facts: SquadFacts = field(default_factory=SquadFacts)


def setup_from_record(record: Record, data_note: str = "", default_lift: str = "back squat") -> RackSetup:
    """Group and plans of this rack as the record has them; an empty record gives an empty rack."""
    squad = tuple(record.athletes())
    group = tuple(a for a in squad if a.group == record.rack)
    plans = {
        (row["athlete_id"], row["lift"]): RackPlan(
            row["athlete_id"],
            row["lift"],
            row["warmup_load_kg"],
            row["planned_load_kg"],
            row["ceiling_kg"],
            row["work_sets"],
            row["stop_loss"],
        )
        for row in record.plans()
    }
    ids = [a.athlete_id for a in group]
    here = [lift for athlete_id, lift in plans if athlete_id in ids]
    lift = lift_named(here[0] if here else default_lift)
    settings = read_settings(record.database.folder)
    return RackSetup(
        record.rack,
        lift,
        group,
        squad,
        plans,
        tuple(record.staff_names()),
        LB_RACK if settings.unit == "lb" else KG_RACK,
        settings,
        data_note,
    )
