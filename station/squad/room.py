"""What a rack tells the room: who lifts what, the last speed, what waits for a decision, sensor and troubles.

Plain values that travel as JSON. Of the athlete only the id is told: names are the record's, and go with an erasure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any


@dataclass(frozen=True, slots=True)
class WaitingSuggestion:
    """A suggestion at a rack.

    Attributes:
        set_id: the warm-up set it rests on, which a decision points at.
        load_kg, planned_kg: what is suggested, and what the plan says (None: nothing planned).
        sentence: as the rack shows it.
    """

    athlete_id: str
    lift: str
    set_id: str
    load_kg: float
    planned_kg: float | None
    sentence: str


@dataclass(frozen=True, slots=True)
class ToldTrouble:
    """A trouble in words, with what to do."""

    words: str
    advice: str
    serious: bool = False


@dataclass(frozen=True, slots=True)
class SpareSensor:
    """A sensor that belongs to no rack of its machine: on the charger, for all that is known."""

    name: str
    battery_percent: int | None = None
    battery_at: str = ""


@dataclass(frozen=True, slots=True)
class ToldSensor:
    """A rack's sensor.

    Attributes:
        link: state in words. streaming: samples arrive.
        battery_percent, battery_hours: last level, and how long it will last; None: unknown.
        drain_seen: the hours rest on what this sensor has used today, not on what sensors commonly use.
        calibrated_day: ISO day; "": never calibrated, or not known here.
        still_check: passed, failed; None: it has not lain still yet.
    """

    name: str = ""
    link: str = ""
    streaming: bool = False
    battery_percent: int | None = None
    battery_hours: float | None = None
    drain_seen: bool = False
    calibrated_day: str = ""
    still_check: bool | None = None


@dataclass(frozen=True, slots=True)
class RackReport:
    """How a rack stands now.

    Attributes:
        athlete_id: whose turn it is; None: unnamed. name_confirmed: a person said so.
        set_kind, set_number, set_open, reps: the set on the bar or the last one; "" before the first.
        last_speed_m_s, last_status: of its last rep; None and "" without one.
        verdict, difference_m_s, warmup_kg: today's warm-up set beside the own usual range; "" before it is done.
        decision, decided_kg: about this athlete's suggestion.
        waiting: suggestions that nobody has decided about, this athlete's first.
        spares: sensors of this machine that belong to no rack.
        closed: the station was closed in order.
    """

    rack: str
    athlete_id: str | None = None
    name_confirmed: bool = True
    lift: str = ""
    load_kg: float = 0.0
    set_kind: str = ""
    set_number: int = 0
    set_open: bool = False
    reps: int = 0
    last_speed_m_s: float | None = None
    last_status: str = ""
    verdict: str = ""
    difference_m_s: float = 0.0
    warmup_kg: float | None = None
    decision: str = ""
    decided_kg: float | None = None
    waiting: tuple[WaitingSuggestion, ...] = ()
    troubles: tuple[ToldTrouble, ...] = ()
    sensor: ToldSensor = ToldSensor()
    spares: tuple[SpareSensor, ...] = ()
    closed: bool = False

    def as_json(self) -> dict[str, Any]:
        """For a file or a column of JSON."""
        return asdict(self)


_LISTS: dict[str, Any] = {"waiting": WaitingSuggestion, "troubles": ToldTrouble, "spares": SpareSensor}


def report_from(told: Mapping[str, Any]) -> RackReport:
    """A report as another station wrote it; what a newer one tells besides is left out.

    Raises:
        ValueError: it is no report.
    """
    try:
        known = _known(RackReport, told)
        for name, kind in _LISTS.items():
            known[name] = tuple(kind(**_known(kind, one)) for one in told.get(name, ()))
        known["sensor"] = ToldSensor(**_known(ToldSensor, told.get("sensor", {})))
        return RackReport(**known)
    except (TypeError, AttributeError) as error:
        raise ValueError(f"not a rack's report ({error})") from error


def _known(kind: Any, told: Mapping[str, Any]) -> dict[str, Any]:
    return {field.name: told[field.name] for field in fields(kind) if field.name in told}
