"""The rows that are handed on: the effective view, a table each, with the names of `export_fields`."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, Select, String, Table, cast, select

from station.squad.checkins import ITEM_KEYS, CheckIn, CheckInKind, Pain
from station.store import effective
from station.store.checkins import newest_a_day
from station.store.jumps import trials_since
from station.store.review_tables import all_comments
from station.store.roster import roster
from station.store.rows import RepRow, SetRow
from station.store.squad_tables import check_ins, jumps
from station.store.tables import corrections, reps, sets

Row = dict[str, Any]
_AT_ONCE = 10_000
# Of a rep all but its curve, in the names of `RepRow`; flags as text, since hardly any rep has one.
_REP_NAMES = tuple(name for name in RepRow.__slots__ if name != "struck")
_OF_A_REP = tuple(
    cast(reps.c.flags, String) if name == "flags" else reps.c["id" if name == "rep_id" else name]
    for name in _REP_NAMES
)


@dataclass(frozen=True, slots=True)
class Span:
    """Days, both included; None: without that end. Names are as of `today`."""

    first: date | None
    last: date | None
    today: date

    def of(self, query: Select[Any], table: Table) -> Select[Any]:
        """The query for these days alone."""
        query = query if self.first is None else query.where(table.c.day >= self.first)
        return query if self.last is None else query.where(table.c.day <= self.last)

    def holds(self, day: date) -> bool:
        """Whether a day is in it."""
        return (self.first is None or day >= self.first) and (self.last is None or day <= self.last)


def athlete_rows(connection: Connection, span: Span) -> Iterator[Row]:
    """Everybody, those who left too."""
    for line in roster(connection, span.today):
        own = line.athlete
        yield {
            "athlete_id": own.athlete_id,
            "athlete_name": own.name,
            "shirt_number": own.shirt_number,
            "group_name": own.group,
            "member": line.member,
        }


def rep_rows(connection: Connection, span: Span) -> Iterator[Row]:
    """Every rep of the sets of these days, in order of their sets."""
    names, struck = _names(connection, span), _struck(connection)
    of_sets = {row.id: _of_a_set(effective.set_row(row), names) for row in _set_query(connection, span)}
    query = span.of(select(*_OF_A_REP).join(sets, sets.c.id == reps.c.set_id), sets)
    query = query.order_by(reps.c.set_id, reps.c.number, reps.c.id)
    for stored in connection.execute(query.execution_options(yield_per=_AT_ONCE)):
        row = dict(zip(_REP_NAMES, stored, strict=True))
        row |= of_sets[row["set_id"]]
        row["struck"] = row["rep_id"] in struck
        row["counted"] = (
            row["mean_velocity_m_s"] is not None
            and row["status"] not in effective.UNCOUNTED_STATUS
            and not row["struck"]
        )
        row["flags"] = "" if row["flags"] == "[]" else "; ".join(json.loads(row["flags"]))
        yield row


def _of_a_set(own: SetRow, names: dict[str, str]) -> Row:
    """What each rep says of its set."""
    return {
        **_who(own.athlete_id, names),
        "day": own.day,
        "lift": own.lift,
        "load_kg": own.load_kg,
        "kind": own.kind,
        "born_at": own.born_at,
    }


def set_rows(connection: Connection, span: Span) -> Iterator[Row]:
    """Every set of these days, oldest first."""
    names = _names(connection, span)
    counted = _counted(connection, span)
    stored = _set_query(connection, span)
    own = _in_sessions([effective.set_row(row) for row in stored])
    said = all_comments(connection)
    for row in stored:
        now, session_id = own[row.id]
        count, fastest = counted.get(now.set_id, (0, None))
        yield {
            **{name: getattr(now, name) for name in now.__slots__},
            **_who(now.athlete_id, names),
            **_source(row),
            "session_id": session_id,
            "counted_reps": count,
            "fastest_m_s": fastest,
            "usual_range_of_motion_m": row.usual_range_of_motion_m,
            "comments": " | ".join(said.get(row.id, ())) or None,
        }


def session_rows(connection: Connection, span: Span) -> Iterator[Row]:
    """Every session of these days, in order of their beginnings."""
    names = _names(connection, span)
    counted = _counted(connection, span)
    sessions: dict[str, list[SetRow]] = defaultdict(list)
    for now, session_id in _in_sessions(list(map(effective.set_row, _set_query(connection, span)))).values():
        sessions[session_id].append(now)
    for session_id, rows in sorted(sessions.items()):
        yield {
            "session_id": session_id,
            **_who(rows[0].athlete_id, names),
            "day": rows[0].day,
            "session": rows[0].session,
            "sets": len(rows),
            "began_at": rows[0].born_at,
            "last_set_at": rows[-1].born_at,
            "racks": "; ".join(sorted({row.rack for row in rows})),
            "lifts": "; ".join(sorted({row.lift for row in rows})),
            "counted_reps": sum(counted.get(row.set_id, (0, None))[0] for row in rows),
        }


def jump_rows(connection: Connection, span: Span) -> Iterator[Row]:
    """Every trial of these days, oldest first."""
    names = _names(connection, span)
    stored = {row.id: row for row in connection.execute(span.of(select(jumps), jumps))}
    for trial in trials_since(connection, span.first or date.min):
        if not span.holds(trial.day):
            continue
        row = stored[trial.trial_id]
        yield {
            **{name: getattr(trial, name) for name in trial.__slots__ if name not in ("trial_id", "flags")},
            **_who(trial.athlete_id, names),
            **_source(row),
            "jump_id": row.id,
            "born_at": row.born_at,
            "rack": row.rack,
            "reactive_strength_m_s": trial.reactive_strength_m_s,
            "flight_time_s": row.flight_time_s,
            "flags": "; ".join(trial.flags),
        }


def checkin_rows(connection: Connection, span: Span) -> Iterator[Row]:
    """Every check-in of these days, oldest first: personal health data."""
    names = _names(connection, span)
    stored = connection.execute(span.of(select(check_ins), check_ins).order_by(check_ins.c.id)).all()
    said = [_said(row) for row in stored]
    newest = newest_a_day(said)
    for row, one in zip(stored, said, strict=True):
        yield {
            **{name: getattr(row, name) for name in ("day", "born_at", "rack", "kind", *ITEM_KEYS)},
            **{name: getattr(row, name) for name in ("hours_slept", "ill", "wants_talk", "note")},
            "seconds": row.seconds,
            "touches": row.touches,
            "checkin_id": row.id,
            **_who(row.athlete_id, names),
            "holds": newest[one.athlete_id, one.day] is one,
            "pains": "; ".join(Pain(*pain).in_words() for pain in row.pains),
        }


ROWS: dict[str, Callable[[Connection, Span], Iterator[Row]]] = {
    "reps": rep_rows,
    "sets": set_rows,
    "sessions": session_rows,
    "jumps": jump_rows,
    "checkins": checkin_rows,
    "athletes": athlete_rows,
}


def _set_query(connection: Connection, span: Span) -> list[Any]:
    query = span.of(effective.effective_sets(), sets).order_by(sets.c.id)
    return list(connection.execute(query).all())


def _struck(connection: Connection) -> set[str]:
    """What is struck out now: reps, jumps and comments."""
    c = corrections.c
    query = select(c.target_id, c.value).where(c.field == "struck").order_by(c.id)
    now = {row.target_id: row.value["to"] for row in connection.execute(query)}
    return {target for target, struck in now.items() if struck}


def _counted(connection: Connection, span: Span) -> dict[str, tuple[int, float]]:
    """By set how many reps count, as a set's observation is chosen in `effective`, and the fastest (m/s) of them."""
    struck, r = _struck(connection), reps.c
    query = select(r.id, r.set_id, r.mean_velocity_m_s).join(sets, sets.c.id == r.set_id)
    query = query.where(r.mean_velocity_m_s.is_not(None), r.status.not_in(effective.UNCOUNTED_STATUS))
    found: dict[str, tuple[int, float]] = {}
    for rep_id, set_id, speed in connection.execute(span.of(query, sets)):
        if rep_id not in struck:
            count, fastest = found.get(set_id, (0, speed))
            found[set_id] = (count + 1, max(fastest, speed))
    return found


def _in_sessions(rows: list[SetRow]) -> dict[str, tuple[SetRow, str]]:
    """By set: the set with its session as the athlete had it, and the id of that session's first set.

    Sets of nobody belong together as their rack counted them.
    """
    theirs: dict[str, list[SetRow]] = defaultdict(list)
    for row in rows:
        theirs[row.athlete_id or f"rack {row.rack}"].append(row)
    first: dict[tuple[str, date, int], str] = {}
    found: dict[str, tuple[SetRow, str]] = {}
    for whose, some in theirs.items():
        for now in effective.own_sessions(some):
            session_id = first.setdefault((whose, now.day, now.session), now.set_id)
            found[now.set_id] = (now, session_id)
    return found


def _names(connection: Connection, span: Span) -> dict[str, str]:
    return {line.athlete.athlete_id: line.athlete.name for line in roster(connection, span.today)}


def _who(athlete_id: str | None, names: dict[str, str]) -> Row:
    return {"athlete_id": athlete_id, "athlete_name": names.get(athlete_id or "")}


def _source(row: Any) -> Row:
    return {
        "sensor": row.sensor,
        "sensor_range_m_s2": row.sensor_range_m_s2,
        "calibration": None if row.calibration is None else json.dumps(row.calibration, sort_keys=True),
        "engine_version": row.engine_version,
    }


def _said(row: Any) -> CheckIn:
    answers = {key: getattr(row, key) for key in ITEM_KEYS if getattr(row, key) is not None}
    return CheckIn(row.athlete_id, row.day, CheckInKind(row.kind), answers)
