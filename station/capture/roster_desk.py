"""Roster, plans, calendar and who played, as tables: read from the record, previewed, and written from a date on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from station.capture.warmup_notes import WarmupNotes
from station.squad import calendar_table, plan_table, roster_table
from station.squad.calendar_table import CalendarLine
from station.squad.plan_table import PlanLine, plan_key
from station.squad.roster import RosterChange, RosterLine
from station.squad.roster_table import Joins, RosterEdit
from station.squad.table_text import LineError, Preview, Row
from station.store import roster
from station.store.record import Record
from station.store.tables import new_id

CALENDAR_DAYS_BACK, CALENDAR_DAYS_AHEAD = 30, 400
LONG_AGO = date(1900, 1, 1)  # who joins was no member before


class TableKind(StrEnum):
    """Which table."""

    ROSTER = "roster"
    PLANS = "plans"
    CALENDAR = "calendar"
    PLAYED = "who played"


COLUMNS = {
    TableKind.ROSTER: roster_table.COLUMNS,
    TableKind.PLANS: plan_table.COLUMNS,
    TableKind.CALENDAR: calendar_table.COLUMNS,
    TableKind.PLAYED: ("name", "played"),
}
AnyPreview = Preview[Any]


class RosterDesk:
    """Reads and writes one desk's record.

    Args:
        today: the local day.
    """

    def __init__(self, record: Record, today: Callable[[], date]) -> None:
        self.record, self._today = record, today
        self._warmups = WarmupNotes(record)

    @property
    def today(self) -> date:
        """The local day."""
        return self._today()

    # -- reading ---------------------------------------------------------------------------------------------------

    def lines(self) -> list[RosterLine]:
        """The roster as of today, those who left included."""
        with self.record.database.read() as connection:
            return roster.roster(connection, self.today)

    def last_match(self) -> date | None:
        """The match that `who played` is about."""
        return max((day for day in self.record.matches() if day <= self.today), default=None)

    def rows(self, kind: TableKind) -> list[Row]:
        """The table as the record has it."""
        if kind is TableKind.ROSTER:
            return roster_table.roster_rows(self.lines())
        if kind is TableKind.PLANS:
            squad = self.lines()
            names = {line.athlete.athlete_id: line.athlete.name for line in squad}
            lines = sorted(
                self._plans().values(),
                key=lambda p: (p.group == "", p.group or names.get(p.athlete_id or "", ""), p.lift),
            )
            return plan_table.plan_rows(lines, squad)
        if kind is TableKind.CALENDAR:
            return calendar_table.calendar_rows(self._calendar().values())
        return self._played_rows()

    def _plans(self) -> dict[plan_table.PlanKey, PlanLine]:
        with self.record.database.read() as connection:
            found = roster.plan_lines(connection, self.today)
        return {
            plan_key(line): line
            for line in (
                PlanLine(p.lift, p.warmup_load_kg, p.planned_load_kg, p.ceiling_kg, p.athlete_id, p.group)
                for p in found
            )
        }

    def _calendar(self) -> dict[str, CalendarLine]:
        with self.record.database.read() as connection:
            found = roster.calendar(connection)
        return {one.key: CalendarLine(one.key, one.day, one.kind, one.title) for one in found}

    def _played_rows(self) -> list[Row]:
        match = self.last_match()
        if match is None:
            return []
        with self.record.database.read() as connection:
            played = roster.played_days(connection)
        members = [line.athlete for line in self.lines() if line.member]
        return [
            Row(n, {"name": a.name, "played": _yes_no(played.get(a.athlete_id, {}).get(match))}, a.athlete_id)
            for n, a in enumerate(members, 1)
        ]

    # -- what a table would change ---------------------------------------------------------------------------------

    def preview(self, kind: TableKind, rows: Sequence[Row], from_day: date) -> AnyPreview:
        """What these rows would change from a day on, and what is wrong with them."""
        if kind is TableKind.ROSTER:
            return roster_table.preview_roster(rows, self.lines(), from_day, [new_id() for _ in rows])
        if kind is TableKind.PLANS:
            return plan_table.preview_plans(rows, self.lines(), self._plans())
        if kind is TableKind.CALENDAR:
            return calendar_table.preview_rows(rows, self._calendar())
        return self._preview_played(rows)

    def preview_calendar_file(self, text: bytes) -> AnyPreview:
        """What an iCalendar file would change.

        Raises:
            TableError: it is none.
        """
        first = self.today - timedelta(days=CALENDAR_DAYS_BACK)
        last = self.today + timedelta(days=CALENDAR_DAYS_AHEAD)
        found = calendar_table.read_icalendar(text, first, last)
        return calendar_table.preview_icalendar(found, self._calendar())

    def _preview_played(self, rows: Sequence[Row]) -> AnyPreview:
        match = self.last_match()
        before = {row.key: row["played"] for row in self._played_rows()}
        by_name = {line.athlete.name.casefold(): line.athlete for line in self.lines() if line.member}
        changes: list[tuple[str, tuple[str, date, bool]]] = []
        errors = []
        for row in rows:
            athlete = by_name.get(row["name"].casefold())
            key = row.key or (athlete.athlete_id if athlete is not None else None)
            word = row["played"].casefold()
            if match is None or key is None or word not in ("", "yes", "no"):
                reason = (
                    "there was no match yet"
                    if match is None
                    else f"nobody is called {row['name']}"
                    if key is None
                    else f"played is yes or no, not {row['played']!r}"
                )
                errors.append(LineError(row.line, reason))
            elif word and word != before.get(key):
                words = f"{row['name']} {'played' if word == 'yes' else 'did not play'} on {match}"
                changes.append((words, (key, match, word == "yes")))
        return Preview(tuple(changes), tuple(errors))

    def warmup_words(self, row: Row) -> tuple[str, ...]:
        """What the fixed warm-up load of one line of the plans can show, as it is typed now; () where the line is
        not a plan yet."""
        squad = self.lines()
        found = plan_table.preview_plans([row], squad, {}).changes
        return self._warmups.of(found[0][1], squad, self.today) if found else ()

    # -- writing ---------------------------------------------------------------------------------------------------

    def apply(self, kind: TableKind, preview: AnyPreview, from_day: date, staff: str = "") -> int:
        """Write what was previewed; how many changes.

        Raises:
            WriteFailed: nothing of the table at hand was kept.
        """
        changes = [change for _, change in preview.changes]
        if kind is TableKind.ROSTER:
            self._apply_roster(changes, staff)
        elif kind is TableKind.PLANS:
            made = [_plan(line, from_day) for line in changes]
            self.record.add_rows("lift_plans", roster.plan_rows(made, staff))
        elif kind is TableKind.CALENDAR:
            days = [roster.CalendarDay(one.key, one.day, one.kind, one.title) for one in changes]
            self.record.add_rows("match_days", roster.calendar_rows(days, staff))
        else:
            rows = [
                {"athlete_id": key, "day": match, "played": played, "staff": staff}
                for key, match, played in changes
            ]
            self.record.add_rows("appearances", rows)
        return len(changes)

    def _apply_roster(self, changes: Sequence[RosterEdit], staff: str) -> None:
        joins = [change for change in changes if isinstance(change, Joins)]
        if joins:
            self.record.add_athletes(join.athlete for join in joins)
        edits = [change for change in changes if not isinstance(change, Joins)]
        edits += [
            edit
            for join in joins
            for edit in (
                RosterChange(join.athlete.athlete_id, "member", False, LONG_AGO),
                RosterChange(join.athlete.athlete_id, "member", True, join.from_day),
                RosterChange(join.athlete.athlete_id, "position", join.position, join.from_day),
            )
        ]
        self.record.add_rows("roster_changes", roster.change_rows(edits, staff))


def _plan(line: PlanLine, from_day: date) -> roster.LiftPlan:
    return roster.LiftPlan(
        line.lift,
        line.warmup_load_kg,
        line.planned_load_kg,
        line.ceiling_kg,
        from_day,
        line.athlete_id,
        line.group,
    )


def _yes_no(played: bool | None) -> str:
    return "" if played is None else "yes" if played else "no"
