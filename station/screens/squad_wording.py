"""What the squad day says, as plain strings: for the screen and for the printed pages."""

from __future__ import annotations

from datetime import date, datetime

from station.capture.squad_day import SquadDay
from station.readiness.squad_list import Entry, SquadList
from station.readiness.squad_rules import Measure
from station.readiness.squad_values import Place, Reading
from station.squad.athletes import TrainingStatus

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)
MEASURE_COUNT = ("no measure", "one measure", "two measures", "three measures")
CAUTION = (
    "Figures support the judgement of qualified staff; they are neither a diagnosis nor a forecast of injury nor "
    "medical clearance. Missing is unknown, never fine."
)


def day_words(day: date) -> str:
    """ "Wednesday 14 October"."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"


def title_words(day: SquadDay) -> str:
    """What day it is, and what is proposed."""
    parts = [day_words(day.list.day), day.match_day, "jump line today" if day.jump_line else ""]
    return " · ".join(part for part in parts if part)


def unwell_words(made: SquadList) -> str:
    """Open pain or illness: counted on every staff screen."""
    return count_unwell_words(made.open_unwell)


def count_unwell_words(n: int) -> str:
    """So many entries of pain or illness are open."""
    return "no open pain or illness" if not n else f"{n} open pain or illness"


def chance_words(made: SquadList) -> str:
    """How many of the entries chance alone would make."""
    if made.by_chance == 0.0:
        return "Nothing is judged today."
    count = max(1, round(made.by_chance)) if made.by_chance >= 0.5 else 0
    expect = f"about {count}" if count else "less than one"
    return (
        f"With {len(made.entries)} athletes and {MEASURE_COUNT[made.measures]} expect {expect} under talk first or "
        "look at by chance."
    )


def counted_words(made: SquadList) -> str:
    """Skipped and declined: counted, not punished."""
    parts = [
        f"{made.skipped} skipped" if made.skipped else "",
        f"{made.declined} declined" if made.declined else "",
    ]
    said = ", ".join(part for part in parts if part)
    return f"Check-in: {said}." if said else ""


def age_words(reading: Reading, day: date) -> str:
    """How old a value is."""
    days = (day - reading.day).days
    return "today" if not days else "yesterday" if days == 1 else f"{days} days ago"


def reason_words(entry: Entry, *, medical: bool = False) -> str:
    """All reasons in one line; detail for medical staff alone."""
    parts = [
        f"{r.words} ({r.medical})" if medical and r.medical else r.words for r in entry.reasons if r.words
    ]
    return "; ".join(parts)


def handled_words(entry: Entry) -> str:
    """By whom, when, with which outcome."""
    if entry.handled is None:
        return ""
    at = entry.handled.at.astimezone()
    word = f"new since {entry.handled.event}" if entry.state == "open" else entry.state
    outcome = f": {entry.handled.outcome}" if entry.handled.outcome else ""
    return f"{word} by {entry.handled.staff}, {at:%H:%M}{outcome}"


def status_words(entry: Entry) -> str:
    """Training status where it is not full."""
    status = entry.athlete.line.athlete.status
    return "" if status is TrainingStatus.FULL else status.value


def who_words(entry: Entry) -> str:
    """Number and name."""
    athlete = entry.athlete.line.athlete
    return athlete.name if athlete.shirt_number is None else f"{athlete.shirt_number}\u00a0{athlete.name}"


def heading(place: Place, count: int) -> str:
    """A heading of the list."""
    return f"{place.in_words().capitalize()} ({count})"


def measure_words(entry: Entry, measure: Measure, day: date) -> str:
    """One measure with its age, or that there is none."""
    reading = next((r for r in entry.athlete.readings if r.measure is measure), None)
    if reading is None:
        return f"{measure}: nothing in the last seven days"
    return f"{measure}, {age_words(reading, day)}: {reading.words}"


def stamp(now: datetime) -> str:
    """When a page was made."""
    return f"{day_words(now.date())} {now.year}, {now:%H:%M}"
