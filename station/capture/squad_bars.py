"""Everybody's latest warm-up set in its usual range; kept beside the record until something changes."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from station.readiness.bar_place import BarPlace, latest_warmup, place_bar
from station.readiness.history import usual_warmup_load
from station.readiness.own_usual import OwnUsual
from station.readiness.prior import SquadPrior, squad_prior
from station.readiness.usual import warmup_series
from station.squad.calendar import like_day
from station.squad.sets import SetObservation
from station.store import roster
from station.store.squad_reading import all_observations, newest_rows

SHOWN_DAYS = 7  # an older value is not shown
HISTORY_DAYS = 240
CACHE_FILE = "usual-ranges.json"


def bar_places(
    connection: Connection, day: date, folder: Path, matches: Sequence[date]
) -> dict[str, BarPlace]:
    """Each athlete's latest warm-up set in its usual range; kept beside the record until that changes."""
    key = f"{sets_key(connection, day)} {len(matches)}"
    kept = _read_cache(folder / CACHE_FILE, key)
    if kept is not None:
        return kept
    made = _bar_places(connection, day, matches)
    _write_cache(folder / CACHE_FILE, key, made)
    return made


def sets_key(connection: Connection, day: date) -> str:
    """Changes with the day, and with every set, rep, correction and plan that is written."""
    return f"{day} {newest_rows(connection)} {roster_key(connection)}"


def lift_prior(connection: Connection, lift: str, day: date) -> SquadPrior:
    """What the squad's days before this one teach about a lift, each athlete at the own warm-up load."""
    grouped: dict[str, list[SetObservation]] = defaultdict(list)
    for one in all_observations(connection, day - timedelta(days=HISTORY_DAYS)):
        if one.lift == lift and one.day < day:
            grouped[one.athlete_id].append(one)
    planned = {
        p["athlete_id"]: p["warmup_load_kg"] for p in roster.plans_on(connection, day) if p["lift"] == lift
    }
    loads = {key: planned.get(key) or usual_warmup_load(own, day) for key, own in grouped.items()}
    return squad_prior(
        [
            warmup_series([s for s in own if s.counts], load, day)
            for key, own in grouped.items()
            if (load := loads[key])
        ]
    )


def roster_key(connection: Connection) -> str:
    """Changes with every plan that is written."""
    rows = [
        connection.exec_driver_sql(f"SELECT max(_rowid_) FROM {name}").scalar_one_or_none() or 0
        for name in ("plans", "lift_plans")
    ]
    return "/".join(map(str, rows))


def _bar_places(connection: Connection, day: date, matches: Sequence[date]) -> dict[str, BarPlace]:
    kinds: dict[date, str] = {}
    grouped: dict[tuple[str, str], list[SetObservation]] = defaultdict(list)
    for one in all_observations(connection, day - timedelta(days=HISTORY_DAYS)):
        if one.day <= day:
            if one.day not in kinds:
                kinds[one.day] = like_day(one.day, matches)
            grouped[one.athlete_id, one.lift].append(one)
    planned = {(p["athlete_id"], p["lift"]): p["warmup_load_kg"] for p in roster.plans_on(connection, day)}
    loads = {key: planned.get(key) or usual_warmup_load(own, day) for key, own in grouped.items()}
    lifts: dict[str, list[tuple[str, float, SetObservation]]] = defaultdict(list)
    for (athlete_id, lift), own in grouped.items():
        load = loads[athlete_id, lift]
        latest = latest_warmup(own, load) if load else None
        if load and latest is not None and (day - latest.day).days <= SHOWN_DAYS:
            lifts[lift].append((athlete_id, load, latest))
    places: dict[str, BarPlace] = {}
    for lift, found in lifts.items():
        prior = squad_prior(
            [
                warmup_series([s for s in own if s.counts], load, day)
                for (athlete_id, other), own in grouped.items()
                if other == lift and (load := loads[athlete_id, lift])
            ]
        )
        for athlete_id, load, latest in found:
            own = [replace(s, like_day=kinds[s.day]) for s in grouped[athlete_id, lift]]
            place = place_bar(own, replace(latest, like_day=kinds[latest.day]), load, prior)
            before = places.get(athlete_id)
            if before is None or before.day <= place.day:
                places[athlete_id] = place
    return places


def _read_cache(file: Path, key: str) -> dict[str, BarPlace] | None:
    try:
        kept: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
        if kept["key"] != key:
            return None
        return {
            athlete_id: BarPlace(
                one["lift"],
                one["load_kg"],
                date.fromisoformat(one["day"]),
                one["mean_velocity_m_s"],
                OwnUsual(**one["usual"]),
            )
            for athlete_id, one in kept["places"].items()
        }
    except (OSError, ValueError, KeyError, TypeError):
        return None  # computed again


def _write_cache(file: Path, key: str, places: dict[str, BarPlace]) -> None:
    rows = {a: asdict(place) | {"day": place.day.isoformat()} for a, place in places.items()}
    try:
        file.write_text(json.dumps({"key": key, "places": rows}), encoding="utf-8")
    except OSError:
        return  # computed again the next time
