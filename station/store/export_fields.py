"""What is handed on: each table's columns with type, unit and meaning; the schema and the files come from here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from station.squad.checkins import HIGHEST, ITEMS, LOWEST

# Types of the Frictionless Table Schema (specs.frictionlessdata.io/table-schema).
FieldType = Literal["string", "integer", "number", "boolean", "date", "datetime"]


@dataclass(frozen=True, slots=True)
class Field:
    """One column: its name, type, unit ("" where it has none; UCUM, ucum.org), and what it means."""

    name: str
    type: FieldType
    unit: str
    meaning: str
    required: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table that can be handed on.

    Attributes:
        key: the columns that together tell its rows apart.
        of: columns that point at another table's key, by that table's name.
    """

    name: str
    title: str
    fields: tuple[Field, ...]
    key: tuple[str, ...]
    of: tuple[tuple[str, str], ...] = ()


def _id(name: str, what: str) -> Field:
    return Field(name, "string", "", f"UUID of {what}; stays the same for ever.", True)


_WHO = (
    Field("athlete_id", "string", "", "UUID of the athlete, corrections applied; empty: nobody was named."),
    Field("athlete_name", "string", "", "The athlete's name on the day of the export."),
)
_DAY = Field("day", "date", "", "Local day.", True)
_BORN = Field("born_at", "datetime", "", "When the row was written, UTC.", True)
_RACK = Field("rack", "string", "", "Rack or screen that wrote it.", True)
_SESSION = Field("session", "integer", "", "Which session of the athlete on that day, counted from 1.", True)
_LIFT = Field("lift", "string", "", "Lift, corrections applied.", True)
_LOAD = Field("load_kg", "number", "kg", "Load of bar, plates and collars, corrections applied.", True)
_SENSOR = Field("sensor", "string", "", "Sensor that measured.")
_SOURCE = (
    _SENSOR,
    Field("sensor_range_m_s2", "number", "m/s2", "Range of its accelerometer to either side."),
    Field("calibration", "string", "", "Calibration of the sensor at that time, as JSON; empty: none."),
    Field("engine_version", "string", "", "Version of the engine that measured."),
)
_FLAGS = Field("flags", "string", "", "Remarks of the engine, parted by '; '.")
_COUNTED = Field("counted_reps", "integer", "", "Reps that count: measured with certainty, not struck.", True)

REPS = Sheet(
    "reps",
    "Repetitions as they stand now, corrections applied; what was struck is there and says so",
    (
        _id("rep_id", "the repetition"),
        _id("set_id", "its set"),
        *_WHO,
        _DAY,
        _BORN,
        _LIFT,
        _LOAD,
        Field("kind", "string", "", "What the set was for, such as warm-up.", True),
        Field("number", "integer", "", "Place in the set, counted from 1.", True),
        Field("status", "string", "", "What the engine decided, such as measured, uncertain, failed.", True),
        Field(
            "struck", "boolean", "", "Struck by staff, or another measurement holds: not to be used.", True
        ),
        Field("counted", "boolean", "", "Counts: measured with certainty, not struck.", True),
        Field("start_time_s", "number", "s", "Start of the movement on the set's own clock.", True),
        Field("end_time_s", "number", "s", "End of the movement on the same clock.", True),
        Field("decided_time_s", "number", "s", "When it was decided, same clock.", True),
        Field("mean_velocity_m_s", "number", "m/s", "Mean upward velocity from start to end."),
        Field("mean_propulsive_velocity_m_s", "number", "m/s", "Mean velocity of its propulsive part."),
        Field("peak_velocity_m_s", "number", "m/s", "Greatest upward velocity."),
        Field("displacement_m", "number", "m", "How far the bar rose."),
        Field("uncertainty_m_s", "number", "m/s", "Standard uncertainty of the mean velocity."),
        _FLAGS,
        Field("why", "string", "", "Why it was not measured or is uncertain, in words."),
        Field(
            "engine_version",
            "string",
            "",
            "Name of the later measurement of the kept samples; empty: measured at the rack by the set's engine.",
        ),
    ),
    ("rep_id",),
    (("set_id", "sets"),),
)
SETS = Sheet(
    "sets",
    "Sets as they stand now, corrections applied",
    (
        _id("set_id", "the set"),
        *_WHO,
        Field("name_confirmed", "boolean", "", "Somebody said whose set it is.", True),
        _DAY,
        _BORN,
        _RACK,
        _SESSION,
        _id("session_id", "the first set of its session, which names the session"),
        _LIFT,
        _LOAD,
        Field("kind", "string", "", "What the set was for, such as warm-up.", True),
        Field(
            "full_effort", "boolean", "", "Lifted as fast as possible; false: somebody said it was not.", True
        ),
        _COUNTED,
        Field("fastest_m_s", "number", "m/s", "Greatest mean velocity of the reps that count."),
        Field("bar_kg", "number", "kg", "Mass of the bar alone."),
        Field("usual_range_of_motion_m", "number", "m", "Usual rise of the bar that the engine was told."),
        *_SOURCE,
        Field("comments", "string", "", "What staff wrote beside it, oldest first, parted by ' | '."),
    ),
    ("set_id",),
    (("session_id", "sessions"),),
)
SESSIONS = Sheet(
    "sessions",
    "Sessions: an athlete's sets of a day without a pause of three hours",
    (
        _id("session_id", "the first set of the session, which names the session"),
        *_WHO,
        _DAY,
        _SESSION,
        Field("began_at", "datetime", "", "When its first set was written, UTC.", True),
        Field("last_set_at", "datetime", "", "When its last set was written, UTC.", True),
        Field("racks", "string", "", "Racks, parted by '; '.", True),
        Field("lifts", "string", "", "Lifts, parted by '; '.", True),
        Field("sets", "integer", "", "How many sets.", True),
        _COUNTED,
    ),
    ("session_id",),
)
JUMPS = Sheet(
    "jumps",
    "Countermovement jumps as they stand now, corrections applied",
    (
        _id("jump_id", "the trial"),
        *_WHO,
        _DAY,
        _BORN,
        _RACK,
        Field("valid", "boolean", "", "Counts: as it should be, and not struck.", True),
        Field("why", "string", "", "Why it does not count, in words."),
        Field("height_m", "number", "m", "Jump height.", True),
        Field("from_flight_m", "number", "m", "The same from flight time.", True),
        Field("from_impulse_m", "number", "m", "The same from velocity at take-off.", True),
        Field("uncertainty_m", "number", "m", "Standard uncertainty of the height."),
        Field("depth_m", "number", "m", "Depth of the countermovement."),
        Field("time_to_takeoff_s", "number", "s", "From the start of the countermovement to take-off."),
        Field("reactive_strength_m_s", "number", "m/s", "Height over time to take-off (modified RSI)."),
        Field("flight_time_s", "number", "s", "Time in the air.", True),
        _FLAGS,
        *_SOURCE,
    ),
    ("jump_id",),
)
CHECKINS = Sheet(
    "checkins",
    "Check-in answers: personal health data",
    (
        _id("checkin_id", "the check-in"),
        *_WHO,
        _DAY,
        _BORN,
        _RACK,
        Field("kind", "string", "", "answered, skipped or declined.", True),
        Field("holds", "boolean", "", "The one that holds for this athlete and day.", True),
        *(
            Field(i.key, "integer", "", f"{i.question}: {LOWEST} {i.worst}, {HIGHEST} {i.best}.")
            for i in ITEMS
        ),
        Field("hours_slept", "number", "h", "Hours slept."),
        Field("pains", "string", "", "Where it hurts, parted by '; '."),
        Field("ill", "boolean", "", "Feels ill.", True),
        Field("wants_talk", "boolean", "", "Wants to talk to somebody.", True),
        Field("note", "string", "", "A word of the athlete's own."),
        Field("seconds", "number", "s", "How long answering took."),
        Field("touches", "integer", "", "Touches of the screen it took."),
    ),
    ("checkin_id",),
)
RAW = Sheet(
    "raw",
    "Raw samples of sets, uncalibrated, on the sensor's own axes; calibration and range stand with the sets",
    (
        _id("set_id", "the set"),
        Field("part", "integer", "", "1; more where a set was taken up again after an interruption.", True),
        Field("seq", "integer", "", "Sample counter of this part; gaps are lost samples.", True),
        Field("host_time_s", "number", "s", "Arrival of the packet on the computer's monotonic clock.", True),
        Field("device_time_s", "number", "s", "The sensor's own time stamp."),
        *(
            Field(f"acc_{a}_m_s2", "number", "m/s2", f"Specific force, {a}; at rest 9.81 in all.", True)
            for a in "xyz"
        ),
        *(Field(f"gyr_{a}_rad_s", "number", "rad/s", f"Angular rate about {a}.") for a in "xyz"),
    ),
    ("set_id", "part", "seq"),
    (("set_id", "sets"),),
)
ATHLETES = Sheet(
    "athletes",
    "Everybody in the record",
    (
        _id("athlete_id", "the athlete"),
        Field("athlete_name", "string", "", "Name.", True),
        Field("shirt_number", "integer", "", "Shirt number."),
        Field("group_name", "string", "", "Group or rack."),
        Field("member", "boolean", "", "Of the squad; false: has left.", True),
    ),
    ("athlete_id",),
)
SHEETS = {sheet.name: sheet for sheet in (REPS, SETS, SESSIONS, JUMPS, CHECKINS, RAW, ATHLETES)}
