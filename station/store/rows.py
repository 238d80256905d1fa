"""Records as values, the way capture and the screens handle them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from drivers.samples import FloatArray


@dataclass(frozen=True, slots=True)
class NewSet:
    """A set that begins: who (None: unnamed), what, and everything needed to measure it again."""

    athlete_id: str | None
    name_confirmed: bool
    day: date
    session: int
    lift: str
    load_kg: float
    kind: str
    staff: str | None = None
    sensor: str = ""
    calibration: dict[str, Any] | None = None
    sensor_range_m_s2: float | None = None
    usual_range_of_motion_m: float | None = None
    bar_kg: float | None = None
    plates: list[list[float]] | None = None
    engine_version: str = ""


@dataclass(frozen=True, slots=True)
class NewRep:
    """A rep as the engine decided it; velocities are None where it was not measured."""

    number: int
    status: str
    start_time_s: float
    end_time_s: float
    decided_time_s: float
    mean_velocity_m_s: float | None = None
    mean_propulsive_velocity_m_s: float | None = None
    peak_velocity_m_s: float | None = None
    displacement_m: float | None = None
    uncertainty_m_s: float | None = None
    flags: tuple[str, ...] = ()
    why: str = ""
    curve_time_s: FloatArray | None = field(default=None, compare=False, repr=False)
    curve_m_s: FloatArray | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class RepRow:
    """One rep as it stands now, corrections included."""

    rep_id: str
    set_id: str
    number: int
    status: str
    struck: bool
    start_time_s: float
    end_time_s: float
    decided_time_s: float
    mean_velocity_m_s: float | None
    mean_propulsive_velocity_m_s: float | None
    peak_velocity_m_s: float | None
    displacement_m: float | None
    uncertainty_m_s: float | None
    flags: tuple[str, ...]
    why: str
    # Of a later engine that measured the kept samples again; "": measured at the rack.
    engine_version: str = ""


@dataclass(frozen=True, slots=True)
class SetRow:
    """One set as it stands now, corrections included."""

    set_id: str
    born_at: datetime
    rack: str
    athlete_id: str | None
    name_confirmed: bool
    day: date
    session: int
    lift: str
    load_kg: float
    kind: str
    full_effort: bool
    sensor: str
    bar_kg: float | None
