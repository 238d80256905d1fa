"""What a rack starts with: its name, group, plans, bars and plates, out of the record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from station.capture.rack_settings import read_settings
from station.capture.rack_view import RackPlan, ScreenSettings, Unit
from station.capture.squad_facts import SquadFacts, facts_of
from station.readiness.plates import KG_PER_LB, KG_RACK, LB_RACK, PlateSet
from station.readiness.within_set import LEAST_STOP, MOST_STOP
from station.squad.athletes import Athlete
from station.squad.lifts import Lift, lift_named
from station.store.rack_things import (
    BAR,
    COLLARS,
    PLATE,
    SENSOR,
    LiftTarget,
    Thing,
    badge_holders,
    pin_hashes,
    targets,
    things_of,
)
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
        pin_needed: staff who sign in with a PIN.
        badges: what the badge reader types, and whose it is.
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
    pin_needed: tuple[str, ...] = ()
    badges: tuple[tuple[str, str], ...] = ()


def setup_from_record(record: Record, data_note: str = "", default_lift: str = "back squat") -> RackSetup:
    """Group and plans of this rack as the record has them; an empty record gives an empty rack."""
    squad = tuple(record.athletes())
    group = tuple(a for a in squad if a.group == record.rack)
    plans = _plans(record)
    ids = [a.athlete_id for a in group]
    here = [lift for athlete_id, lift in plans if athlete_id in ids]
    settings = read_settings(record.database.folder)
    plates, bars = _equipment(record, settings.unit)
    return RackSetup(
        record.rack,
        lift_named(here[0] if here else default_lift),
        group,
        squad,
        plans,
        tuple(record.staff_names()),
        plates,
        settings,
        data_note,
        bars,
        facts_of(record),
        tuple(pin_hashes(record)),
        tuple(badge_holders(record).items()),
    )


def with_settings(setup: RackSetup, settings: ScreenSettings, record: Record) -> RackSetup:
    """The same rack with another setting of its screen; another unit brings its own plates, the bar stays."""
    if settings.unit == setup.settings.unit:
        return replace(setup, settings=settings)
    plates, bars = _equipment(record, settings.unit)
    bar_kg = setup.plates.bar_kg if bars else plates.bar_kg
    return replace(setup, settings=settings, plates=replace(plates, bar_kg=bar_kg))


def _plans(record: Record) -> dict[tuple[str, str], RackPlan]:
    wanted = targets(record)
    nothing = LiftTarget(None, None, None)
    plans = {}
    for row in record.plans():
        key = (row["athlete_id"], row["lift"])
        target = wanted.get(key, nothing)
        low, high = target.low_m_s, target.high_m_s
        plans[key] = RackPlan(
            *key,
            row["warmup_load_kg"],
            row["planned_load_kg"],
            row["ceiling_kg"],
            row["work_sets"],
            _stop(row["stop_loss"]),
            (low, high) if low is not None and high is not None else None,
            target.velocity_at_1rm_m_s,
        )
    return plans


def _stop(share: float | None) -> float | None:
    """A stop outside 10 to 40 % is none: a plan from elsewhere must not stop the screen."""
    return share if share is not None and LEAST_STOP <= share <= MOST_STOP else None


def _equipment(record: Record, unit: Unit) -> tuple[PlateSet, tuple[tuple[str, float], ...]]:
    """Plates and bars as written down for this rack; without, what racks commonly have, as cast."""
    things = things_of(record)
    common = LB_RACK if unit == "lb" else KG_RACK
    bars = tuple((t.label, t.weighed_kg) for t in things if t.kind == BAR)
    bar_kg = bars[0][1] if bars else common.bar_kg
    common = replace(
        common, bar_kg=bar_kg, collars_kg=_newest(things, COLLARS), sensor_kg=_newest(things, SENSOR)
    )
    plates = [t for t in things if t.kind == PLATE]
    own = [t for t in plates if t.unit == unit] or plates
    if not own:
        return common, bars
    own = [t for t in own if t.unit == own[0].unit]
    per_unit = KG_PER_LB if own[0].unit == "lb" else 1.0
    pairs = tuple((float(t.label), t.pairs) for t in own)
    weighed = tuple((float(t.label), t.weighed_kg / per_unit) for t in own)
    return replace(common, pairs=pairs, unit=own[0].unit, weighed=weighed), bars


def _newest(things: Sequence[Thing], kind: str) -> float:
    """What the one written down last weighs, kg; 0 without any."""
    return next((t.weighed_kg for t in reversed(things) if t.kind == kind), 0.0)
