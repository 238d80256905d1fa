"""What the room says of a rack, as plain strings, cell by cell: made from a `RoomLine`, without Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from station.capture.rack_view import RepStatus
from station.capture.room_desk import RoomLine, RoomView
from station.readiness.plates import load_words
from station.readiness.results import Verdict
from station.squad.room import SpareSensor, ToldSensor

GOOD_HOURS = 2.0
HALF_A_DAY_S = 12 * 3600.0
SESSION_HEADS = ("rack", "athlete", "last speed", "today", "suggestion", "trouble")
CHECK_HEADS = ("rack", "sensor", "seen", "battery", "calibrated", "still check", "ready")


@dataclass(frozen=True, slots=True)
class Cell:
    """Two lines of one column; `mark` draws a shape before them: "waits", "see to it", "ready" or none."""

    words: str
    under: str = ""
    mark: str = ""


def session_cells(line: RoomLine) -> tuple[Cell, ...]:
    """One rack while people lift, by `SESSION_HEADS`."""
    return (_rack(line), _athlete(line), _speed(line), _today(line), _suggestion(line), _trouble(line))


def check_cells(line: RoomLine, today: date) -> tuple[Cell, ...]:
    """One rack before a session, by `CHECK_HEADS`."""
    sensor = line.report.sensor
    wrong = not_ready(line)
    ready = Cell(wrong[0], mark="see to it") if wrong else Cell("ready", mark="ready")
    return (
        _rack(line),
        Cell(sensor.name or "none yet", f"belongs to {line.report.rack}" if sensor.name else ""),
        Cell("seen" if sensor.streaming else "not seen", "" if sensor.streaming else sensor.link),
        _battery(sensor),
        _calibrated(sensor, today),
        Cell({None: "not yet", True: "passed", False: "failed"}[sensor.still_check], _still_words(sensor)),
        ready,
    )


def not_ready(line: RoomLine) -> tuple[str, ...]:
    """What is to be seen to before a session; what is not known counts as not ready."""
    sensor = line.report.sensor
    if not line.here:
        return (_trouble(line).words,)
    found = [
        (not sensor.streaming, "switch the sensor on"),
        (sensor.battery_hours is None, "battery unknown"),
        ((sensor.battery_hours or GOOD_HOURS) < GOOD_HOURS, "charge, or take another"),
        (not sensor.calibrated_day, "calibrate: a minute"),
        (sensor.still_check is False, "calibrate, or another"),
        (sensor.still_check is None, "let the bar be still"),
    ]
    return tuple(words for wrong, words in found if wrong)


def head_words(view: RoomView, *, check: bool) -> str:
    """The line above all racks."""
    here = sum(line.here for line in view.lines)
    parts = [f"{here} of {len(view.lines)} racks running"]
    missed = sum(line.missed for line in view.lines)
    parts += [f"{missed} silent"] if missed else []
    if check:
        parts.append(f"{sum(not not_ready(line) for line in view.lines)} ready")
    else:
        waits = sum(len(line.report.waiting) for line in view.lines if line.here)
        parts.append(f"{waits} {'suggestion waits' if waits == 1 else 'suggestions wait'}")
    return (
        ", ".join(parts)
        if view.lines
        else "No rack has told anything yet: start one on this machine, or share."
    )


def spare_words(spares: Sequence[SpareSensor]) -> str:
    """Sensors that belong to no rack, the fullest first."""
    if not spares:
        return ""
    full = sorted(
        spares, key=lambda one: (one.battery_percent is None, -(one.battery_percent or 0), one.name)
    )
    return "On the charger: " + ", ".join(f"{one.name} {_spare_battery(one)}" for one in full)


def detail_words(line: RoomLine | None) -> tuple[str, ...]:
    """Everything about the chosen rack that has no room in its row."""
    if line is None:
        return ("Choose a rack.",)
    said = [f"{line.report.rack}{f': {line.name}' if line.name else ''}"]
    for name, waiting in zip(line.names, line.report.waiting, strict=True):
        plan = f" Plan: {load_words(waiting.planned_kg, 'kg')}." if waiting.planned_kg is not None else ""
        said.append(f"{name or 'no name'}, {waiting.lift}: {waiting.sentence}{plan}")
    said += [f"{trouble.words} {trouble.advice}" for trouble in line.report.troubles]
    if line.missed:
        said.append(f"{_missed(line)}: look at its screen and its network. What was shown last stands here.")
    return tuple(said)


def _rack(line: RoomLine) -> Cell:
    if line.report.closed:
        return Cell(line.report.rack, f"till {_when(line)}")
    return Cell(line.report.rack, f"till {_when(line)}" if line.missed else "")


def _athlete(line: RoomLine) -> Cell:
    report = line.report
    name = line.name or ("no name" if report.set_kind else "nobody yet")
    sure = name if report.name_confirmed or not line.name else f"{name} ?"
    return Cell(sure, f"{report.lift}, {load_words(report.load_kg, 'kg')}" if report.lift else "")


def _speed(line: RoomLine) -> Cell:
    report = line.report
    if not report.set_kind:
        return Cell("–", "no set yet")
    under = f"rep {report.reps}, {report.set_kind} {report.set_number}" + (
        "" if report.set_open else ", over"
    )
    if report.last_speed_m_s is None:
        return Cell(report.last_status or "no rep yet", under)
    doubt = "" if report.last_status == RepStatus.MEASURED else f", {report.last_status}"
    return Cell(f"{report.last_speed_m_s:.2f} m/s{doubt}", under)


def _today(line: RoomLine) -> Cell:
    report = line.report
    at = f"at {load_words(report.warmup_kg, 'kg')}" if report.warmup_kg is not None else ""
    if not report.verdict:
        return Cell("–", "warm-up first" if at else "")
    if report.verdict in (Verdict.SLOWER, Verdict.FASTER):
        return Cell(f"{abs(report.difference_m_s):.2f} {report.verdict}", f"than usual {at}")
    return Cell(report.verdict, at)


def _suggestion(line: RoomLine) -> Cell:
    report = line.report
    if report.waiting:
        first = report.waiting[0]
        more = f", and {len(report.waiting) - 1} more" if len(report.waiting) > 1 else ""
        about = line.names[0] if first.athlete_id != report.athlete_id else "waits"
        return Cell(f"{load_words(first.load_kg, 'kg')}?", f"{about}{more}", "waits")
    if report.decision:
        return Cell(
            load_words(report.decided_kg, "kg") if report.decided_kg is not None else report.decision,
            f"decided: {report.decision}",
        )
    return Cell("–")


def _trouble(line: RoomLine) -> Cell:
    if line.report.closed:
        return Cell("closed")
    if line.missed:
        return Cell(_missed(line), mark="see to it")
    troubles = line.report.troubles
    if not troubles:
        return Cell("none")
    return Cell(troubles[0].words, f"and {len(troubles) - 1} more" if len(troubles) > 1 else "", "see to it")


def _missed(line: RoomLine) -> str:
    return f"silent for {_length(line.age_s)}"


def _battery(sensor: ToldSensor) -> Cell:
    if sensor.battery_percent is None or sensor.battery_hours is None:
        return Cell("unknown")
    by = "as used today" if sensor.drain_seen else "as such sensors use"
    return Cell(f"{sensor.battery_percent} %, {sensor.battery_hours:.0f} h", by)


def _calibrated(sensor: ToldSensor, today: date) -> Cell:
    if not sensor.calibrated_day:
        return Cell("never")
    days = (today - date.fromisoformat(sensor.calibrated_day)).days
    return Cell("today" if days <= 0 else "yesterday" if days == 1 else f"{days} days ago")


def _still_words(sensor: ToldSensor) -> str:
    return {None: "not at rest", True: "gravity right", False: "gravity off"}[sensor.still_check]


def _spare_battery(one: SpareSensor) -> str:
    if one.battery_percent is None:
        return "(battery unknown)"
    at = f", read {_clock(datetime.fromisoformat(one.battery_at))}" if one.battery_at else ""
    return f"({one.battery_percent} %{at})"


def _clock(at: datetime) -> str:
    return at.astimezone().strftime("%a %H:%M")


def _when(line: RoomLine) -> str:
    """When a rack was heard last: the hour, or the day where that is long ago."""
    return line.heard_at.astimezone().strftime("%H:%M" if line.age_s < HALF_A_DAY_S else "%d %b")


def _length(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.0f} s"
    if seconds < 2 * 3600:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.0f} h" if seconds < 48 * 3600 else f"{seconds / 86400:.0f} days"
