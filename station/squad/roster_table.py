"""The roster as a table: what an edited, pasted or imported one would change, sentence by sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from station.squad.athletes import Athlete
from station.squad.roster import Field, RosterChange, RosterLine
from station.squad.table_text import LineError, Preview, Row, number_of

COLUMNS = ("name", "shirt_number", "group", "position", "in squad")
YES, NO = "yes", "no"


@dataclass(frozen=True, slots=True)
class Joins:
    """Somebody who is new."""

    athlete: Athlete
    position: str
    from_day: date


RosterEdit = Joins | RosterChange


def roster_rows(lines: Sequence[RosterLine]) -> list[Row]:
    """The roster as rows, by name."""
    return [
        Row(
            n,
            {
                "name": line.athlete.name,
                "shirt_number": "" if line.athlete.shirt_number is None else str(line.athlete.shirt_number),
                "group": line.athlete.group,
                "position": line.position,
                "in squad": YES if line.member else NO,
            },
            line.athlete.athlete_id,
        )
        for n, line in enumerate(lines, 1)
    ]


def preview_roster(
    rows: Iterable[Row], current: Sequence[RosterLine], from_day: date, new_id: Sequence[str] | None = None
) -> Preview[RosterEdit]:
    """What these rows would change.

    A row with a key is that athlete's, also under another name; one without is found by name, or joins. Who is not
    in the rows stays as they are: leaving is "no" under "in squad".

    Args:
        new_id: ids for those who join; as many as rows at most.
    """
    rows = list(rows)
    known = {line.athlete.athlete_id: line for line in current}
    by_name: dict[str, list[RosterLine]] = {}
    for line in current:
        by_name.setdefault(line.athlete.name.casefold(), []).append(line)
    ids = iter(new_id or [f"new {n}" for n in range(len(rows))])
    twice = Counter(row["name"].casefold() for row in rows if row.key is None)
    changes: list[tuple[str, RosterEdit]] = []
    errors: list[LineError] = []
    for row in rows:
        try:
            if row.key is None and twice[row["name"].casefold()] > 1:
                raise ValueError(f"{row['name']} is in the table twice")
            known_line = known.get(row.key or "") or _named(row, by_name)
            if known_line is None:
                changes.append(_joins(row, next(ids), from_day))
            else:
                changes += _changes(row, known_line, from_day)
        except ValueError as error:
            errors.append(LineError(row.line, str(error)))
    return Preview(tuple(changes), tuple(errors))


def _named(row: Row, by_name: dict[str, list[RosterLine]]) -> RosterLine | None:
    if not row["name"]:
        raise ValueError("the name is empty")
    found = by_name.get(row["name"].casefold(), [])
    if len(found) > 1:
        raise ValueError(f"{len(found)} athletes are called {row['name']}; change them in the table itself")
    return found[0] if found else None


def _shirt(row: Row) -> int | None:
    number = number_of(row["shirt_number"], "shirt_number", 0, 999)
    if number is not None and number != int(number):
        raise ValueError(f"shirt_number {row['shirt_number']} is not a whole number")
    return None if number is None else int(number)


def _member(row: Row) -> bool:
    word = row["in squad"].casefold()
    if word in ("", YES, "y", "1", "true"):
        return True
    if word in (NO, "n", "0", "false"):
        return False
    raise ValueError(f"in squad is yes or no, not {row['in squad']!r}")


def _joins(row: Row, athlete_id: str, from_day: date) -> tuple[str, RosterEdit]:
    if not _member(row):
        raise ValueError(f"{row['name']} is not known and cannot leave")
    athlete = Athlete(athlete_id, row["name"], _shirt(row), row["group"])
    number = f", number {athlete.shirt_number}" if athlete.shirt_number is not None else ""
    group = f", {athlete.group}" if athlete.group else ""
    return f"{athlete.name} joins{number}{group}", Joins(athlete, row["position"], from_day)


def _changes(row: Row, line: RosterLine, from_day: date) -> list[tuple[str, RosterEdit]]:
    athlete = line.athlete
    if not row["name"]:
        raise ValueError("the name is empty")
    wanted: list[tuple[Field, str, str | int | bool | None, str | int | bool | None]] = [
        ("name", "name", athlete.name, row["name"])
    ]
    if "shirt_number" in row.cells:
        wanted.append(("shirt_number", "number", athlete.shirt_number, _shirt(row)))
    if "group" in row.cells:
        wanted.append(("group", "group", athlete.group, row["group"]))
    if "position" in row.cells:
        wanted.append(("position", "position", line.position, row["position"]))
    changes: list[tuple[str, RosterEdit]] = [
        (
            f"{athlete.name}: {word} {_shown(before)} → {_shown(after)}",
            RosterChange(athlete.athlete_id, field, after, from_day),
        )
        for field, word, before, after in wanted
        if before != after
    ]
    if "in squad" in row.cells and _member(row) != line.member:
        words = f"{athlete.name} {'comes back' if _member(row) else 'leaves'}"
        changes.append((words, RosterChange(athlete.athlete_id, "member", _member(row), from_day)))
    return changes


def _shown(value: str | int | bool | None) -> str:
    return "none" if value in (None, "") else str(value)
