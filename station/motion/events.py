"""What the motion engine reports: frozen values with units in their names.

Times are seconds since the first sample on the recovered clock.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from drivers.samples import FloatArray

Placement = Literal["bar", "belt"]
TroubleKind = Literal["sensor_fell", "sensor_slipped", "bad_samples", "rate_jump", "silence"]


@dataclass(frozen=True, slots=True)
class RepMeasured:
    """One repetition's concentric phase, final.

    Attributes:
        number: 1, 2, ... within the set.
        start_time_s, end_time_s: bounds of the concentric phase, s.
        mean_velocity_m_s: displacement divided by duration (MV), m/s.
        mean_propulsive_velocity_m_s: mean velocity until acceleration first falls below -9.81 m/s2 (MPV), m/s.
        peak_velocity_m_s: largest vertical velocity (PV), m/s.
        displacement_m: range of motion, m.
        duration_s: s.
        decided_time_s: time of the sample that made the number final, s.
        uncertainty_m_s: half-width of the 95 % interval of the mean velocity, m/s.
        flags: words such as "short", "gap", "clipped", "uncertain", "not measured".
        curve_time_s, curve_m_s: the rep's velocity curve, for review; not part of equality.
    """

    number: int
    start_time_s: float
    end_time_s: float
    mean_velocity_m_s: float
    mean_propulsive_velocity_m_s: float
    peak_velocity_m_s: float
    displacement_m: float
    duration_s: float
    decided_time_s: float
    uncertainty_m_s: float
    flags: tuple[str, ...] = ()
    curve_time_s: FloatArray | None = field(default=None, compare=False, repr=False)
    curve_m_s: FloatArray | None = field(default=None, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class FailedRep:
    """An upward movement that turned back before two thirds of the usual range of motion. Not counted."""

    start_time_s: float
    end_time_s: float
    displacement_m: float
    decided_time_s: float


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """A repetition that happened in a hole of the data: reported, never guessed."""

    start_time_s: float
    end_time_s: float
    decided_time_s: float
    reason: str


@dataclass(frozen=True, slots=True)
class JumpMeasured:
    """One countermovement jump, final. Heights in m, times in s.

    Attributes:
        takeoff_time_s, landing_time_s, flight_time_s: of the flight.
        jump_height_m: rise of the belt after take-off, from all that is known.
        height_from_flight_m, height_from_impulse_m: the same from flight time alone and take-off velocity alone.
        decided_time_s: time of the sample that made the number final.
        flags: "heights disagree" with "tucked" (longer in the air than the take-off gives) or "landed early",
            "no countermovement", "double dip", "arm swing", "clipped", "gap".
        uncertainty_m: half-width of the 95 % interval of `jump_height_m`.
        countermovement_depth_m: how far the belt went down before.
        time_to_takeoff_s: from the start of the countermovement.
    """

    takeoff_time_s: float
    landing_time_s: float
    flight_time_s: float
    jump_height_m: float
    height_from_flight_m: float
    height_from_impulse_m: float
    decided_time_s: float
    flags: tuple[str, ...] = ()
    uncertainty_m: float | None = None
    countermovement_depth_m: float | None = None
    time_to_takeoff_s: float | None = None


@dataclass(frozen=True, slots=True)
class Gap:
    """Samples lost between two times."""

    start_time_s: float
    end_time_s: float
    lost_samples: int


@dataclass(frozen=True, slots=True)
class Clipped:
    """Samples at the sensor's range limit."""

    start_time_s: float
    end_time_s: float
    samples: int


@dataclass(frozen=True, slots=True)
class SetEnd:
    """The set is over: bar racked, or 30 s without a rep."""

    time_s: float
    reps: int
    reason: Literal["racked", "no rep for 30 s", "end of recording"]


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something is wrong with the sensor or its samples, and what to do about it."""

    kind: TroubleKind
    time_s: float
    advice: str


MotionEvent = RepMeasured | FailedRep | NotMeasured | JumpMeasured | Gap | Clipped | SetEnd | Trouble
