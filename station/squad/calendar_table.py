"""The match calendar as a table, and out of an iCalendar file (RFC 5545), with what either would change."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, Literal

import icalendar
import recurring_ical_events  # type: ignore[import-untyped]

from station.squad.table_text import LineError, Preview, Row, TableError

COLUMNS = ("day", "kind", "title")
Kind = Literal["match", "bye", "cancelled"]
KINDS: tuple[Kind, ...] = ("match", "bye", "cancelled")
# A list of fixtures names the round without a match by this word.
_BYE = re.compile(r"\bbye\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class CalendarLine:
    """One entry: a match, a bye week (named by its first day), or one that was called off.

    Attributes:
        key: the same for every version of an entry.
    """

    key: str
    day: date
    kind: Kind
    title: str = ""


def calendar_rows(lines: Iterable[CalendarLine]) -> list[Row]:
    """The calendar as rows, by day."""
    return [
        Row(n, {"day": one.day.isoformat(), "kind": one.kind, "title": one.title}, one.key)
        for n, one in enumerate(sorted(lines, key=lambda one: one.day), 1)
    ]


def preview_rows(rows: Iterable[Row], current: Mapping[str, CalendarLine]) -> Preview[CalendarLine]:
    """What these rows would change; an entry that is not in them stays."""
    found: list[CalendarLine] = []
    errors: list[LineError] = []
    for row in rows:
        try:
            found.append(_line(row))
        except ValueError as error:
            errors.append(LineError(row.line, str(error)))
    return Preview(_changes(found, current), tuple(errors))


def _line(row: Row) -> CalendarLine:
    try:
        day = date.fromisoformat(row["day"])
    except ValueError:
        raise ValueError(f"day {row['day']!r} is not a date such as 2026-10-14") from None
    word = row["kind"].casefold() or "match"
    kind = next((kind for kind in KINDS if kind == word), None)
    if kind is None:
        raise ValueError(f"kind is {', '.join(KINDS)}, not {row['kind']!r}")
    return CalendarLine(row.key or f"day {day}", day, kind, row["title"])


def read_icalendar(text: str | bytes, first: date, last: date) -> list[CalendarLine]:
    """Matches out of an iCalendar file between two days, recurrences counted out; a cancelled one is cancelled.

    Args:
        text: the file.

    Raises:
        TableError: it is no iCalendar file.
    """
    try:
        calendar = icalendar.Calendar.from_ical(text)
        events = recurring_ical_events.of(calendar).between(first, last + timedelta(days=1))
    except (ValueError, TypeError, AttributeError, KeyError, IndexError) as error:
        raise TableError(f"this is not an iCalendar file ({error})") from error
    repeated = {
        _uid(event) for event in calendar.walk("VEVENT") if {"RRULE", "RDATE", "RECURRENCE-ID"} & set(event)
    }
    found = {}
    for event in events:
        line = _event(event, repeats=_uid(event) in repeated)
        if first <= line.day <= last:
            found[line.key] = line
    return sorted(found.values(), key=lambda one: (one.day, one.key))


def _uid(event: Any) -> str:
    return str(event.get("UID", "no uid"))


def _event(event: Any, *, repeats: bool) -> CalendarLine:
    """One event; a single one is known by its UID alone, so that a moved match stays the same match."""
    start: date | datetime = event["DTSTART"].dt
    # A day is the day on the wall where the match is played: the zone that the file gives, not this machine's.
    day = start.date() if isinstance(start, datetime) else start
    which: date | datetime = event["RECURRENCE-ID"].dt if "RECURRENCE-ID" in event else start
    key = f"{_uid(event)} {which.isoformat()}" if repeats else _uid(event)
    off = str(event.get("STATUS", "")).upper() == "CANCELLED"
    title = str(event.get("SUMMARY", ""))[:200]
    kind: Kind = "cancelled" if off else "bye" if _BYE.search(title) else "match"
    return CalendarLine(key[:300], day, kind, title)


def preview_icalendar(
    found: Sequence[CalendarLine], current: Mapping[str, CalendarLine]
) -> Preview[CalendarLine]:
    """What an imported calendar would change. A match that was typed on the same day is that match."""
    taken: dict[str, CalendarLine] = {}
    for line in found:
        typed = current.get(f"day {line.day}")
        same = line.key not in current and typed is not None
        taken[line.key] = replace(line, key=typed.key) if same and typed is not None else line
    return Preview(_changes(list(taken.values()), current))


def _changes(
    lines: Sequence[CalendarLine], current: Mapping[str, CalendarLine]
) -> tuple[tuple[str, CalendarLine], ...]:
    changes = []
    for line in sorted(lines, key=lambda one: one.day):
        before = current.get(line.key)
        if before == line or (before is None and line.kind == "cancelled"):
            continue
        changes.append((_words(before, line), line))
    return tuple(changes)


def _words(before: CalendarLine | None, line: CalendarLine) -> str:
    title = f" {line.title}" if line.title else ""
    if before is None:
        return f"{line.day} {line.kind}{title}: new"
    if line.kind == "cancelled":
        return f"{before.day} {before.kind}{title}: called off"
    moved = f"{before.day} → {line.day}" if before.day != line.day else str(line.day)
    kind = f"{before.kind} → {line.kind}" if before.kind != line.kind else line.kind
    return f"{moved} {kind}{title}"
