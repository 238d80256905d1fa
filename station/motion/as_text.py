"""Motion events as plain records with units in their keys, and as lines for people."""

from __future__ import annotations

from dataclasses import fields

from station.motion.events import (
    Clipped,
    FailedRep,
    Gap,
    JumpMeasured,
    MotionEvent,
    NotMeasured,
    RepMeasured,
    SetEnd,
    Trouble,
)

EVENT_NAMES: dict[type, str] = {
    RepMeasured: "rep",
    FailedRep: "failed_rep",
    NotMeasured: "not_measured",
    JumpMeasured: "jump",
    Gap: "gap",
    Clipped: "clipped",
    SetEnd: "set_end",
    Trouble: "trouble",
}
_NOT_WRITTEN = {"curve_time_s", "curve_m_s", "uncertainty_m", "countermovement_depth_m", "time_to_takeoff_s"}
_DECIMALS = 6

Record = dict[str, str | int | float | list[str]]


def as_record(event: MotionEvent) -> Record:
    """The event under its name, with its figures rounded to micrometres and microseconds; curves are left out."""
    record: Record = {"event": EVENT_NAMES[type(event)]}
    for field in fields(event):
        if field.name not in _NOT_WRITTEN:
            record[field.name] = _plain(getattr(event, field.name))
    return record


def _plain(value: object) -> str | int | float | list[str]:
    if isinstance(value, float):
        return round(value, _DECIMALS)
    if isinstance(value, tuple):
        return [str(item) for item in value]
    assert isinstance(value, str | int)
    return value


def as_line(event: MotionEvent) -> str:
    """The event in one line of words."""
    match event:
        case RepMeasured():
            flags = f"  ({', '.join(event.flags)})" if event.flags else ""
            return (
                f"{event.start_time_s:9.2f} s  rep {event.number:<3d} mean {event.mean_velocity_m_s:.3f}"
                f" ± {event.uncertainty_m_s:.3f} m/s  propulsive {event.mean_propulsive_velocity_m_s:.3f}"
                f"  peak {event.peak_velocity_m_s:.3f}  range {event.displacement_m:.3f} m{flags}"
            )
        case FailedRep():
            return f"{event.start_time_s:9.2f} s  failed rep, turned back after {event.displacement_m:.3f} m"
        case NotMeasured():
            return f"{event.start_time_s:9.2f} s  rep not measured: {event.reason}"
        case JumpMeasured():
            flags = f"  ({', '.join(event.flags)})" if event.flags else ""
            return (
                f"{event.takeoff_time_s:9.2f} s  jump {100 * event.jump_height_m:.1f} cm"
                f"  by flight {100 * event.height_from_flight_m:.1f}"
                f"  by impulse {100 * event.height_from_impulse_m:.1f}{flags}"
            )
        case Gap():
            return f"{event.start_time_s:9.2f} s  {event.lost_samples} samples lost"
        case Clipped():
            return f"{event.start_time_s:9.2f} s  {event.samples} samples at the sensor's limit"
        case SetEnd():
            return f"{event.time_s:9.2f} s  set over: {event.reps} reps, {event.reason}"
        case Trouble():
            return f"{event.time_s:9.2f} s  {event.kind.replace('_', ' ')}: {event.advice}"
