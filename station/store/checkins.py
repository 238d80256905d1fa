"""Check-ins in the record: answers, consent, and the hold that a rack may know of without knowing why."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, String, insert, select, type_coerce

from station.squad.checkins import CONSENT_VERSION, ITEM_KEYS, CheckIn, CheckInKind, Pain
from station.store.record import Record
from station.store.share_tables import check_in_marks
from station.store.squad_tables import check_ins, consents, load_holds


def add_check_in(record: Record, one: CheckIn) -> str:
    """Keep a check-in; what was said of pain or illness holds back load suggestions for the day. Its id."""
    row = record.born() | {
        "athlete_id": one.athlete_id,
        "day": one.day,
        "kind": one.kind.value,
        **{key: one.answers.get(key) for key in ITEM_KEYS},
        "hours_slept": one.hours_slept,
        "pains": [[pain.region, pain.side] for pain in one.pains],
        "ill": one.ill,
        "wants_talk": one.wants_talk,
        "note": one.note,
        "seconds": one.seconds,
        "touches": one.touches,
    }
    with record.database.write("the check-in") as connection:
        connection.execute(insert(check_ins), row)
        here = record.born() | {"athlete_id": one.athlete_id, "day": one.day}
        connection.execute(insert(check_in_marks), here)
        if one.unwell:
            hold = record.born() | {"athlete_id": one.athlete_id, "day": one.day, "holds": True}
            connection.execute(insert(load_holds), hold)
    return str(row["id"])


def give_consent(record: Record, athlete_id: str, *, given: bool) -> None:
    """An athlete agreed to answer, or said no; the newest word holds."""
    record.add_rows("consents", [{"athlete_id": athlete_id, "given": given, "text_version": CONSENT_VERSION}])


def consents_now(connection: Connection) -> dict[str, bool]:
    """The newest word of each athlete who was ever asked under today's text."""
    t = consents
    query = select(t.c.athlete_id, t.c.given).where(t.c.text_version == CONSENT_VERSION).order_by(t.c.id)
    return {r.athlete_id: r.given for r in connection.execute(query)}


def lift_hold(record: Record, athlete_id: str, day: date) -> None:
    """Medical staff let loads be suggested again today."""
    record.add_rows("load_holds", [{"athlete_id": athlete_id, "day": day, "holds": False}])


def held_back(connection: Connection, day: date) -> set[str]:
    """Athletes to whom no load is suggested on a day. Says nobody why."""
    t = load_holds
    query = select(t.c.athlete_id, t.c.holds).where(t.c.day == day).order_by(t.c.id)
    newest = {r.athlete_id: r.holds for r in connection.execute(query)}
    return {athlete_id for athlete_id, holds in newest.items() if holds}


def check_ins_since(connection: Connection, first_day: date) -> list[CheckIn]:
    """Every check-in from a day on, in order of writing; of two of one day both are there, the later one holds."""
    c = check_ins.c
    # Most say nothing of pain: the list is read only where there is one.
    columns = [*_PLAIN, type_coerce(c.pains, String).label("pains")]
    return [
        _check_in(r)
        for r in connection.execute(select(*columns).where(c.day >= first_day).order_by(c.id)).all()
    ]


def newest_a_day(found: Iterable[CheckIn]) -> dict[tuple[str, date], CheckIn]:
    """By athlete and day: the last check-in of the day holds, but an answer is never hidden by a later skip."""
    kept: dict[tuple[str, date], CheckIn] = {}
    for one in found:
        before = kept.get((one.athlete_id, one.day))
        if before is None or one.kind is CheckInKind.ANSWERED or before.kind is not CheckInKind.ANSWERED:
            kept[one.athlete_id, one.day] = one
    return kept


def done_today(connection: Connection, day: date) -> set[str]:
    """Who has a check-in of any kind today: all that a kiosk needs to know, and keeps."""
    found: set[str] = set()
    for t in (check_in_marks, check_ins):
        found |= set(connection.execute(select(t.c.athlete_id).where(t.c.day == day)).scalars())
    return found


_PLAIN = [c for c in check_ins.c if c.name not in ("id", "born_at", "rack", "pains")]


def _check_in(r: Row[Any]) -> CheckIn:
    given = (r.fatigue, r.sleep, r.soreness, r.stress, r.mood)
    return CheckIn(
        r.athlete_id,
        r.day,
        CheckInKind(r.kind),
        {key: value for key, value in zip(ITEM_KEYS, given, strict=True) if value is not None},
        () if r.pains == "[]" else tuple(Pain(region, side) for region, side in json.loads(r.pains)),
        r.ill,
        r.wants_talk,
        r.hours_slept,
        r.note,
        r.seconds,
        r.touches,
    )
