"""One athlete's season out of the record, for the desk."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from sqlalchemy import Connection

from station.capture.athlete_season import AthleteSeason, JumpPoint, Known, season_of
from station.capture.review_log import named, people
from station.capture.squad_prior import SquadPriors
from station.readiness.history import usual_warmup_load, without_other_depths
from station.squad.calendar import after_match, like_day
from station.squad.errors import UnknownLift
from station.squad.lifts import LIFTS, lift_named
from station.store import effective, jumps, roster
from station.store.rack_things import targets
from station.store.record import Record

SEASON = timedelta(weeks=46)


class ReviewAthletes:
    """Reads one record; in one thread of its desk.

    Args:
        today: the local day.
    """

    def __init__(self, record: Record, today: Callable[[], date]) -> None:
        self._record, self._today = record, today
        self._priors = SquadPriors()

    def season(self, athlete_id: str, lift: str | None = None) -> AthleteSeason:
        """The season up to today.

        Args:
            lift: None: the one most done.
        """
        today = self._today()
        own_1rm = targets(self._record)
        with self._record.database.read() as connection:
            matches = roster.match_dates(connection)
            played = roster.played_days(connection).get(athlete_id)
            done = _lifts_done(connection, athlete_id, today - SEASON)
            name = lift or next(iter(done), next(iter(LIFTS)))
            target = own_1rm.get((athlete_id, name))
            known = _known(
                connection,
                athlete_id,
                name,
                today,
                target.velocity_at_1rm_m_s if target is not None else None,
                self._priors,
            )
            jumped = _jumps(connection, athlete_id, today, matches)
            athlete = people(connection, today).get(athlete_id)
        kinds = {day for day, was in played.items() if was} if played is not None else None
        seen = tuple(replace(one, like_day=like_day(one.day, matches, kinds)) for one in known.sets)
        return season_of(
            replace(known, sets=seen),
            today,
            matches,
            jumped,
            (athlete_id, "nobody in the squad" if athlete is None else named(athlete)),
            tuple(done) if name in done else (name, *done),
        )


def _lifts_done(connection: Connection, athlete_id: str, since: date) -> list[str]:
    counts: dict[str, int] = {}
    for row in effective.sets_of(connection, athlete_id):
        if row.day >= since:
            counts[row.lift] = counts.get(row.lift, 0) + 1
    return sorted(counts, key=lambda lift: (-counts[lift], lift))


def _known(
    connection: Connection,
    athlete_id: str,
    name: str,
    today: date,
    own_1rm_m_s: float | None,
    priors: SquadPriors,
) -> Known:
    try:
        lift = lift_named(name)
    except UnknownLift:
        lift = replace(next(iter(LIFTS.values())), name=name)
    own = [
        one
        for one in without_other_depths(effective.observations(connection, athlete_id, name))
        if today - SEASON <= one.day <= today
    ]
    plans = {(p["athlete_id"], p["lift"]): p["warmup_load_kg"] for p in roster.plans_on(connection, today)}
    load = plans.get((athlete_id, name)) or usual_warmup_load(own, today + timedelta(days=1))
    return Known(lift, load, tuple(own), priors.prior(connection, name, today, plans), own_1rm_m_s)


def _jumps(
    connection: Connection, athlete_id: str, today: date, matches: Sequence[date]
) -> tuple[JumpPoint, ...]:
    played = roster.played_days(connection)
    found = jumps.jump_days_since(
        connection,
        today - SEASON,
        lambda key, day: after_match(day, matches, played.get(key)),
        whose=athlete_id,
    )
    return tuple(
        JumpPoint(one.day, one.mean_m, one.after.in_words())
        for one in found.get(athlete_id, ())
        if one.day <= today
    )
