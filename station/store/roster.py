"""Who belongs to the squad, what medical staff allow, the match calendar and plans: each row holds from a date."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from sqlalchemy import Connection, Row, select

from station.squad.athletes import Athlete, TrainingStatus
from station.squad.roster import RosterChange, RosterLine, StatusChange, roster_on
from station.squad.status import Restriction
from station.store.squad_tables import appearances, lift_plans, match_days, roster_changes, training_statuses
from station.store.tables import athletes, matches, plans

CalendarKind = Literal["match", "bye", "cancelled"]


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """One entry of the calendar: a match, a bye week (from its first day), or one that was called off.

    Attributes:
        key: the same for every version of one entry; the newest written holds.
    """

    key: str
    day: date
    kind: CalendarKind
    title: str = ""


@dataclass(frozen=True, slots=True)
class LiftPlan:
    """Fixed warm-up load, planned load and ceiling of one lift, for one athlete or a whole group, from a date. kg."""

    lift: str
    warmup_load_kg: float
    planned_load_kg: float | None
    ceiling_kg: float | None
    from_day: date
    athlete_id: str | None = None
    group: str = ""
    work_sets: int = 3
    stop_loss: float | None = 0.20


def change_rows(changes: Iterable[RosterChange], staff: str = "") -> list[dict[str, Any]]:
    """Rows for `Record.add_rows("roster_changes", ...)`."""
    return [
        {"athlete_id": c.athlete_id, "field": c.field, "value": {"to": c.value}}
        | {"from_day": c.from_day, "staff": staff}
        for c in changes
    ]


def status_rows(changes: Iterable[StatusChange]) -> list[dict[str, Any]]:
    """Rows for `Record.add_rows("training_statuses", ...)`."""
    return [
        {"athlete_id": c.athlete_id, "status": c.restriction.status.value, "lifts": list(c.restriction.lifts)}
        | {"ceiling_kg": c.restriction.ceiling_kg, "until": c.restriction.until}
        | {"from_day": c.from_day, "staff": c.staff}
        for c in changes
    ]


def calendar_rows(days: Iterable[CalendarDay], staff: str = "") -> list[dict[str, Any]]:
    """Rows for `Record.add_rows("match_days", ...)`."""
    return [{"key": d.key, "day": d.day, "kind": d.kind, "title": d.title, "staff": staff} for d in days]


def plan_rows(made: Iterable[LiftPlan], staff: str = "") -> list[dict[str, Any]]:
    """Rows for `Record.add_rows("lift_plans", ...)`."""
    return [
        {"athlete_id": p.athlete_id, "group_name": p.group, "lift": p.lift, "from_day": p.from_day}
        | {"warmup_load_kg": p.warmup_load_kg, "planned_load_kg": p.planned_load_kg, "staff": staff}
        | {"ceiling_kg": p.ceiling_kg, "work_sets": p.work_sets, "stop_loss": p.stop_loss}
        for p in made
    ]


def roster(connection: Connection, day: date) -> list[RosterLine]:
    """Everybody as of a day, by name; those who left stand there with `member` false."""
    born = [
        RosterLine(Athlete(r.id, r.name, r.shirt_number, r.group_name, TrainingStatus(r.status)))
        for r in connection.execute(select(athletes).order_by(athletes.c.id))
    ]
    t = roster_changes
    changes = [
        RosterChange(r.athlete_id, r.field, r.value["to"], r.from_day)
        for r in connection.execute(select(t).order_by(t.c.id))
    ]
    return roster_on(born, changes, statuses(connection), day)


def statuses(connection: Connection) -> dict[str, list[StatusChange]]:
    """Every training status ever set, by athlete, in order of writing."""
    t = training_statuses
    found: dict[str, list[StatusChange]] = defaultdict(list)
    for r in connection.execute(select(t).order_by(t.c.id)):
        restriction = Restriction(TrainingStatus(r.status), tuple(r.lifts), r.ceiling_kg, r.until)
        found[r.athlete_id].append(StatusChange(r.athlete_id, restriction, r.from_day, r.staff))
    return dict(found)


def calendar(connection: Connection) -> list[CalendarDay]:
    """The newest version of each entry, by day; what was called off is left out."""
    t = match_days
    newest = {
        r.key: CalendarDay(r.key, r.day, r.kind, r.title)
        for r in connection.execute(select(t).order_by(t.c.id))
    }
    typed = {
        f"day {d}": CalendarDay(f"day {d}", d, "match")
        for d in connection.execute(select(matches.c.day)).scalars()
    }
    kept = [one for one in (typed | newest).values() if one.kind != "cancelled"]
    return sorted(kept, key=lambda one: (one.day, one.key))


def match_dates(connection: Connection) -> list[date]:
    """Days with a match, in order, each once."""
    return sorted({one.day for one in calendar(connection) if one.kind == "match"})


def bye_weeks(connection: Connection) -> list[date]:
    """First days of the weeks without a match, in order."""
    return sorted({one.day for one in calendar(connection) if one.kind == "bye"})


def played_days(connection: Connection) -> dict[str, dict[date, bool]]:
    """For each athlete the matches somebody wrote down, and whether they played."""
    t = appearances
    found: dict[str, dict[date, bool]] = defaultdict(dict)
    for r in connection.execute(select(t).order_by(t.c.id)):
        found[r.athlete_id][r.day] = r.played
    return dict(found)


def plans_on(connection: Connection, day: date) -> list[dict[str, Any]]:
    """The plan of each athlete and lift as of a day: the athlete's own newest, else the group's newest."""
    own: dict[tuple[str, str], dict[str, Any]] = {}
    of_group: dict[tuple[str, str], dict[str, Any]] = {}
    for r in connection.execute(select(plans).order_by(plans.c.id)).mappings():
        own[r["athlete_id"], r["lift"]] = dict(r)
    t = lift_plans
    begun = select(t).where(t.c.from_day <= day).order_by(t.c.from_day, t.c.id)
    for r in connection.execute(begun).mappings():
        if r["athlete_id"] is not None:
            own[r["athlete_id"], r["lift"]] = dict(r)
        else:
            of_group[r["group_name"], r["lift"]] = dict(r)
    if of_group:
        own = _for_groups(of_group, roster(connection, day)) | own
    return list(own.values())


def plan_lines(connection: Connection, day: date) -> list[LiftPlan]:
    """The plans as they were written, as of a day: athletes' and groups' apart, the newest of each."""
    newest: dict[tuple[str, str], LiftPlan] = {}
    for r in connection.execute(select(plans).order_by(plans.c.id)):
        newest[r.athlete_id, r.lift] = _written(r, r.born_at.date(), r.athlete_id, "")
    t = lift_plans
    for r in connection.execute(select(t).where(t.c.from_day <= day).order_by(t.c.from_day, t.c.id)):
        newest[r.athlete_id or r.group_name, r.lift] = _written(r, r.from_day, r.athlete_id, r.group_name)
    return list(newest.values())


def _written(r: Row[Any], from_day: date, athlete_id: str | None, group: str) -> LiftPlan:
    return LiftPlan(
        r.lift,
        r.warmup_load_kg,
        r.planned_load_kg,
        r.ceiling_kg,
        from_day,
        athlete_id,
        group,
        r.work_sets,
        r.stop_loss,
    )


def _for_groups(
    of_group: dict[tuple[str, str], dict[str, Any]], lines: Sequence[RosterLine]
) -> dict[tuple[str, str], dict[str, Any]]:
    members = [line.athlete for line in lines if line.member]
    return {
        (a.athlete_id, lift): row | {"athlete_id": a.athlete_id}
        for (group, lift), row in of_group.items()
        for a in members
        if a.group == group
    }
