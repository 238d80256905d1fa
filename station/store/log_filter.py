"""What the session log is asked for, and the condition that finds it.

A filter goes by what holds now: a set that was moved is found under its athlete of today. Of corrections there are
few, so the newest of a field is looked up once a query and not once a set.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Select, Subquery, and_, false, func, or_, select, true

from station.store.review_tables import comments
from station.store.tables import corrections, sets


@dataclass(frozen=True, slots=True)
class Word:
    """One word of a search: what it may mean. A set is found when any of it fits."""

    athlete_ids: frozenset[str] = frozenset()
    lifts: frozenset[str] = frozenset()
    racks: frozenset[str] = frozenset()
    load_kg: tuple[float, float] | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class LogFilter:
    """Which sets of the log are asked for; None: whatever it is.

    Attributes:
        first, last: days, both included.
        athlete_id: "" for sets that nobody has named.
        words: all of them must be found.
    """

    first: date | None = None
    last: date | None = None
    athlete_id: str | None = None
    lift: str | None = None
    rack: str | None = None
    words: tuple[Word, ...] = ()


def newest_of_field(field: str) -> Subquery:
    """The newest correction of a field, one row a target (SQLite: the other columns are those of the maximum)."""
    c = corrections.c
    query = select(c.target_id, c.value, func.max(c.id)).where(c.field == field).group_by(c.target_id)
    return query.subquery()


def _now(
    field: str,
    fits: Callable[[ColumnElement[Any]], ColumnElement[bool]],
    column: ColumnElement[Any],
    value: Callable[[Any], ColumnElement[Any]],
) -> ColumnElement[bool]:
    """Whether what holds now fits: the newest correction, else what was written down."""
    newest = newest_of_field(field)
    corrected = select(newest.c.target_id)
    return or_(
        sets.c.id.in_(corrected.where(fits(value(newest.c.value["to"])))),
        and_(fits(column), sets.c.id.not_in(corrected)),
    )


def _is_athlete(ids: Collection[str]) -> ColumnElement[bool]:
    return _now("athlete_id", lambda c: c.in_(ids), sets.c.athlete_id, lambda v: v.as_string())


def _is_lift(names: Collection[str]) -> ColumnElement[bool]:
    return _now("lift", lambda c: c.in_(names), sets.c.lift, lambda v: v.as_string())


def _is_load(low_kg: float, high_kg: float) -> ColumnElement[bool]:
    return _now("load_kg", lambda c: c.between(low_kg, high_kg), sets.c.load_kg, lambda v: v.as_float())


def where(asked: LogFilter) -> ColumnElement[bool]:
    """The condition on `sets` that holds for what is asked for."""
    wanted: list[ColumnElement[bool]] = [true()]
    if asked.first is not None:
        wanted.append(sets.c.day >= asked.first)
    if asked.last is not None:
        wanted.append(sets.c.day <= asked.last)
    if asked.athlete_id == "":
        wanted.append(_now("athlete_id", lambda c: c.is_(None), sets.c.athlete_id, lambda v: v.as_string()))
    elif asked.athlete_id is not None:
        wanted.append(_is_athlete([asked.athlete_id]))
    if asked.lift is not None:
        wanted.append(_is_lift([asked.lift]))
    if asked.rack is not None:
        wanted.append(sets.c.rack == asked.rack)
    return and_(*wanted, *(_means(word) for word in asked.words))


def _means(word: Word) -> ColumnElement[bool]:
    ways: list[ColumnElement[bool]] = [false()]
    if word.athlete_ids:
        ways.append(_is_athlete(word.athlete_ids))
    if word.lifts:
        ways.append(_is_lift(word.lifts))
    if word.racks:
        ways.append(sets.c.rack.in_(word.racks))
    if word.load_kg is not None:
        ways.append(_is_load(*word.load_kg))
    if word.text:
        ways.append(sets.c.id.in_(_commented(word.text)))
    return or_(*ways)


def _commented(text: str) -> Select[Any]:
    gone = newest_of_field("struck")
    struck = select(gone.c.target_id).where(gone.c.value["to"].as_boolean())
    said = comments.c.words.icontains(text, autoescape=True)
    return select(comments.c.set_id).where(said, comments.c.id.not_in(struck))
