"""Plans as a table: fixed warm-up load, planned load and ceiling, for one athlete or a whole group."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from station.squad.errors import UnknownLift
from station.squad.lifts import lift_named
from station.squad.roster import RosterLine
from station.squad.table_text import LineError, Preview, Row, number_of

COLUMNS = ("who", "lift", "warmup_load_kg", "planned_load_kg", "ceiling_kg")
HEAVIEST_KG = 500.0


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One line of the plan: an athlete's (by id) or a group's (by name)."""

    lift: str
    warmup_load_kg: float
    planned_load_kg: float | None
    ceiling_kg: float | None
    athlete_id: str | None = None
    group: str = ""


PlanKey = tuple[str, str]
"""Athlete id or group name, and the lift."""


def plan_key(line: PlanLine) -> PlanKey:
    """What a newer line takes the place of."""
    return (line.athlete_id or line.group, line.lift)


def plan_rows(lines: Iterable[PlanLine], squad: Sequence[RosterLine]) -> list[Row]:
    """Plans as rows, in the order given."""
    names = {line.athlete.athlete_id: line.athlete.name for line in squad}
    return [
        Row(
            n,
            {
                "who": one.group or names.get(one.athlete_id or "", ""),
                "lift": one.lift,
                "warmup_load_kg": f"{one.warmup_load_kg:g}",
                "planned_load_kg": "" if one.planned_load_kg is None else f"{one.planned_load_kg:g}",
                "ceiling_kg": "" if one.ceiling_kg is None else f"{one.ceiling_kg:g}",
            },
            one.athlete_id,
        )
        for n, one in enumerate(lines, 1)
    ]


def preview_plans(
    rows: Iterable[Row], squad: Sequence[RosterLine], current: Mapping[PlanKey, PlanLine]
) -> Preview[PlanLine]:
    """What these rows would change; a plan that is not in them stays as it is."""
    changes: list[tuple[str, PlanLine]] = []
    errors: list[LineError] = []
    seen: set[PlanKey] = set()
    for row in rows:
        try:
            line = _line(row, squad)
            if plan_key(line) in seen:
                raise ValueError(f"{row['who']} and {line.lift} are in the table twice")
            seen.add(plan_key(line))
            before = current.get(plan_key(line))
            if before != line:
                changes.append((_words(row["who"], before, line), line))
        except (ValueError, UnknownLift) as error:
            errors.append(LineError(row.line, str(error)))
    return Preview(tuple(changes), tuple(errors))


def _line(row: Row, squad: Sequence[RosterLine]) -> PlanLine:
    athlete_id, group = _who(row, squad)
    lift = lift_named(row["lift"].lower()).name
    warmup, planned, ceiling = (
        number_of(row[column], column, 1.0, HEAVIEST_KG)
        for column in ("warmup_load_kg", "planned_load_kg", "ceiling_kg")
    )
    if warmup is None:
        raise ValueError("the fixed warmup_load_kg is empty")
    if ceiling is not None and ceiling < (planned or warmup):
        raise ValueError(f"the ceiling of {ceiling:g} kg is below the load of {planned or warmup:g} kg")
    return PlanLine(lift, warmup, planned, ceiling, athlete_id, group)


def _who(row: Row, squad: Sequence[RosterLine]) -> tuple[str | None, str]:
    who = row["who"]
    if not who:
        raise ValueError("who is empty: a name, or a group such as rack 1")
    named = [line for line in squad if line.athlete.name.casefold() == who.casefold()]
    if row.key is not None and any(line.athlete.athlete_id == row.key for line in named):
        return row.key, ""
    if len(named) > 1:
        raise ValueError(f"{len(named)} athletes are called {who}")
    if named:
        return named[0].athlete.athlete_id, ""
    groups = {line.athlete.group.casefold(): line.athlete.group for line in squad if line.athlete.group}
    if who.casefold() not in groups:
        raise ValueError(f"nobody and no group is called {who}")
    return None, groups[who.casefold()]


def _words(who: str, before: PlanLine | None, line: PlanLine) -> str:
    now = _loads(line)
    return f"{who}, {line.lift}: {f'{_loads(before)} → ' if before else 'new: '}{now}"


def _loads(line: PlanLine) -> str:
    planned = f", planned {line.planned_load_kg:g}" if line.planned_load_kg is not None else ""
    ceiling = f", at most {line.ceiling_kg:g}" if line.ceiling_kg is not None else ""
    return f"warm-up {line.warmup_load_kg:g}{planned}{ceiling} kg"
