"""Everybody's latest warm-up set in its usual range: of those whose sets have changed computed anew."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path

from sqlalchemy import Connection

from station.capture.kept_places import CACHE_FILE, read_places, write_places
from station.readiness.bar_place import BarPlace, latest_warmup, place_bar
from station.readiness.history import usual_warmup_load
from station.readiness.prior import SquadPrior, WarmupSeries, squad_prior
from station.readiness.usual import warmup_series
from station.squad.calendar import like_day
from station.squad.sets import SetObservation
from station.store import roster
from station.store.squad_kept import AthleteLift, KeptObservations
from station.store.squad_reading import newest_rows

SHOWN_DAYS = 7  # an older value is not shown
HISTORY_DAYS = 240


@dataclass(frozen=True, eq=False, slots=True)
class _History:
    """One athlete and lift: what was read, and what follows from it alone.

    Attributes:
        own: the object that `KeptObservations` keeps while nothing changes.
        known: its sets up to the day.
        planned_kg: the planned warm-up load; `load_kg`: that, or the one used most.
        before: counted sets of the days before, from which the squad's experience is learned.
        latest: the last counted warm-up set.
    """

    own: tuple[SetObservation, ...]
    known: tuple[SetObservation, ...]
    planned_kg: float | None
    load_kg: float | None
    before: tuple[SetObservation, ...]
    series: WarmupSeries | None
    latest: SetObservation | None


class SquadBars:
    """One desk's: keeps what was computed of everybody whose sets have not changed since.

    Everything kept stands with what it was computed from, and holds only for exactly that.

    Args:
        folder: the record's; the answer is also kept there, for the next start.
    """

    def __init__(self, folder: Path) -> None:
        self._file = folder / CACHE_FILE
        self._key = ""
        self._places: dict[str, BarPlace] = {}
        self._kept = KeptObservations()
        self._setting: tuple[date, tuple[date, ...]] | None = None
        self._histories: dict[AthleteLift, _History] = {}
        self._priors: dict[str, tuple[tuple[WarmupSeries, ...], SquadPrior]] = {}
        self._placed: dict[AthleteLift, tuple[_History, SquadPrior, BarPlace]] = {}

    def places(self, connection: Connection, day: date, matches: Sequence[date]) -> dict[str, BarPlace]:
        """Each athlete's latest warm-up set in its usual range."""
        key = f"{sets_key(connection, day)} {zlib.crc32(repr(matches).encode()):08x}"
        if key != self._key:
            found = read_places(self._file, key)
            if found is None:
                found = self.compute(connection, day, matches)
                write_places(self._file, key, found)
            self._key, self._places = key, found
        return self._places

    def compute(self, connection: Connection, day: date, matches: Sequence[date]) -> dict[str, BarPlace]:
        """The same, of the record as it stands: anew only where something has changed."""
        self._begin(day, matches)
        grouped = self._kept.read(connection, day - timedelta(days=HISTORY_DAYS))
        planned = {
            (p["athlete_id"], p["lift"]): p["warmup_load_kg"] for p in roster.plans_on(connection, day)
        }
        # In one order whatever came first, so that sums over the squad are the same to the last digit.
        self._histories = {
            key: self._history(key, grouped[key], planned.get(key), day) for key in sorted(grouped)
        }
        prior_of = cache(self._prior)
        kind_of = cache(lambda when: like_day(when, matches))
        places: dict[str, BarPlace] = {}
        for key, history in self._histories.items():
            latest = history.latest
            if latest is None or (day - latest.day).days > SHOWN_DAYS:
                continue
            place = self._place(key, history, latest, prior_of(key[1]), kind_of)
            before = places.get(key[0])
            if before is None or before.day <= place.day:
                places[key[0]] = place
        return places

    def get_ready(self, connection: Connection, day: date, matches: Sequence[date]) -> None:
        """After a start that took its answer from the file: read what the next new set will be judged by."""
        if self._setting is None:
            self.compute(connection, day, matches)

    def _begin(self, day: date, matches: Sequence[date]) -> None:
        """On another day, or with other matches, nothing that was computed holds."""
        setting = (day, tuple(matches))
        if setting != self._setting:
            self._setting = setting
            self._histories.clear()
            self._placed.clear()

    def _history(
        self, key: AthleteLift, own: tuple[SetObservation, ...], planned_kg: float | None, day: date
    ) -> _History:
        was = self._histories.get(key)
        if was is not None and was.own is own and was.planned_kg == planned_kg:
            return was
        known = tuple(one for one in own if one.day <= day)
        load = planned_kg or usual_warmup_load(known, day)
        before = tuple(one for one in own if one.counts and one.day < day)
        if was is not None and (was.load_kg, was.before) == (load, before):
            series = was.series
        else:
            series = warmup_series(before, load, day) if load else None
        latest = latest_warmup(known, load) if load else None
        return _History(own, known, planned_kg, load, before, series, latest)

    def _prior(self, lift: str) -> SquadPrior:
        series = tuple(
            h.series for (_, other), h in self._histories.items() if other == lift and h.series is not None
        )
        was = self._priors.get(lift)
        # Series are compared as objects: they have no other equality.
        if was is None or was[0] != series:
            self._priors[lift] = was = (series, squad_prior(series))
        return was[1]

    def _place(
        self,
        key: AthleteLift,
        history: _History,
        latest: SetObservation,
        prior: SquadPrior,
        kind_of: Callable[[date], str],
    ) -> BarPlace:
        was = self._placed.get(key)
        if was is not None and was[0] is history and was[1] == prior:
            return was[2]
        own = [replace(s, like_day=kind_of(s.day)) for s in history.known]
        assert history.load_kg is not None
        place = place_bar(own, replace(latest, like_day=kind_of(latest.day)), history.load_kg, prior)
        self._placed[key] = (history, prior, place)
        return place


def sets_key(connection: Connection, day: date) -> str:
    """Changes with the day, and with every set, rep, correction, plan, roster change and erasure."""
    rows = [
        connection.exec_driver_sql(f"SELECT max(_rowid_) FROM {name}").scalar_one_or_none() or 0
        for name in ("plans", "lift_plans", "roster_changes", "erasures")
    ]
    return f"{day} {newest_rows(connection)} {'/'.join(map(str, rows))}"
