"""The roster as of a day: who belongs, with which name, number and group, from changes that each hold from a date."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from station.squad.athletes import Athlete, TrainingStatus
from station.squad.status import Restriction

Field = Literal["member", "name", "shirt_number", "group", "position"]
FIELDS: tuple[Field, ...] = ("member", "name", "shirt_number", "group", "position")


@dataclass(frozen=True, slots=True)
class RosterChange:
    """One thing about one athlete, from a day on: joined or left (member), name, number, group or position."""

    athlete_id: str
    field: Field
    value: str | int | bool | None
    from_day: date


@dataclass(frozen=True, slots=True)
class StatusChange:
    """Training status set by medical staff, from a day on."""

    athlete_id: str
    restriction: Restriction
    from_day: date
    staff: str = ""


@dataclass(frozen=True, slots=True)
class RosterLine:
    """One athlete as of a day, with the position group and whether a member."""

    athlete: Athlete
    position: str = ""
    member: bool = True


def roster_on(
    born: Sequence[RosterLine],
    changes: Iterable[RosterChange],
    statuses: Mapping[str, Sequence[StatusChange]],
    day: date,
) -> list[RosterLine]:
    """Every athlete as of a day, by name; those who left stand there with `member` false.

    Args:
        born: as they were first written down.
        changes: in order of writing; of two from one day the later written holds.
        statuses: for each athlete, in order of writing.
    """
    lines = {one.athlete.athlete_id: one for one in born}
    for change in sorted((c for c in changes if c.from_day <= day), key=lambda c: c.from_day):
        if change.athlete_id in lines:
            lines[change.athlete_id] = _changed(lines[change.athlete_id], change)
    made = [_with_status(line, statuses.get(key, ()), day) for key, line in lines.items()]
    return sorted(made, key=lambda line: (line.athlete.name, line.athlete.athlete_id))


def _changed(line: RosterLine, change: RosterChange) -> RosterLine:
    value = change.value
    match change.field:
        case "member":
            return replace(line, member=bool(value))
        case "position":
            return replace(line, position=str(value or ""))
        case "name":
            return replace(line, athlete=replace(line.athlete, name=str(value)))
        case "group":
            return replace(line, athlete=replace(line.athlete, group=str(value or "")))
        case "shirt_number":
            number = None if value is None else int(value)
            return replace(line, athlete=replace(line.athlete, shirt_number=number))


def holding(statuses: Sequence[StatusChange], day: date) -> Restriction | None:
    """The training status of a day: the newest that has begun; None when none was set or it ran out."""
    begun = sorted((s for s in statuses if s.from_day <= day), key=lambda s: s.from_day)
    if not begun:
        return None
    last = begun[-1].restriction
    return None if last.until is not None and day > last.until else last


def _with_status(line: RosterLine, statuses: Sequence[StatusChange], day: date) -> RosterLine:
    if not statuses:
        return line
    now = holding(statuses, day)
    status = TrainingStatus.FULL if now is None else now.status
    return replace(line, athlete=replace(line.athlete, status=status))
