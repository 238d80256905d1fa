"""What a plan's fixed warm-up load can show of each athlete it is for: the sentence below the table of plans."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from sqlalchemy import Connection

from station.capture.squad_bars import HISTORY_DAYS, sets_key
from station.readiness.history import usual_warmup_load, without_other_depths
from station.readiness.plates import load_words
from station.readiness.prior import SquadPrior, squad_prior
from station.readiness.sensitivity import WarmupShows, warmup_shows
from station.readiness.usual import counted_warmups, usual_for_day, warmup_series
from station.squad.athletes import Athlete
from station.squad.calendar import like_day
from station.squad.plan_table import PlanLine
from station.squad.roster import RosterLine
from station.squad.sets import SetObservation
from station.store import effective, roster
from station.store.record import Record
from station.store.squad_reading import all_observations


class WarmupNotes:
    """Reads one record, for one line of the plans at a time.

    The squad's experience of a lift is kept until sets, plans or the day change: it takes everybody's sets.
    """

    def __init__(self, record: Record) -> None:
        self._record = record
        self._priors: dict[str, SquadPrior] = {}
        self._key = ""

    def of(self, line: PlanLine, squad: Sequence[RosterLine], day: date) -> tuple[str, ...]:
        """One sentence for an athlete's plan; for a group's one for each athlete of whom its load shows too little.

        Args:
            line: as it stands in the table, written or not.
            day: today; the sets of days before it are history.
        """
        if line.athlete_id is not None:
            return (self._of_one(line, line.athlete_id, day),)
        members = [one.athlete for one in squad if one.member and one.athlete.group == line.group]
        return self._of_group(line, members, day)

    def _of_one(self, line: PlanLine, athlete_id: str, day: date) -> str:
        load = load_words(line.warmup_load_kg)
        shows = self._shows(line, athlete_id, day)
        if shows is None:
            return f"What {load} shows is not known yet: no earlier warm-up set at it."
        if shows.strength_drop is None:
            return f"What {load} shows is not known yet: heavier sets were not slower."
        return (
            shows.in_words(line.warmup_load_kg)
            or f"{load} shows a loss of strength from {100 * shows.strength_drop:.0f} % on."
        )

    def _of_group(self, line: PlanLine, members: Sequence[Athlete], day: date) -> tuple[str, ...]:
        known = [
            (one.name, shows)
            for one in members
            if (shows := self._shows(line, one.athlete_id, day)) is not None
            and shows.strength_drop is not None
        ]
        if not known:
            return (f"What {load_words(line.warmup_load_kg)} shows is known of nobody in {line.group} yet.",)
        weak = [f"{name}: {words}" for name, s in known if (words := s.in_words(line.warmup_load_kg))]
        head = f"{load_words(line.warmup_load_kg)} shows too little of {len(weak)} of {len(known)} athletes."
        return (head, *weak)

    def _shows(self, line: PlanLine, athlete_id: str, day: date) -> WarmupShows | None:
        """By the usual range of such a day as today; None without history at this load."""
        load = line.warmup_load_kg
        with self._record.database.read() as connection:
            prior = self._prior(connection, line.lift, day)
            matches = roster.match_dates(connection)
            written = roster.played_days(connection).get(athlete_id)
            sets = without_other_depths(effective.observations(connection, athlete_id, line.lift))
        # Of a match that nobody wrote down nothing is known: it counts as for everybody.
        played = None if written is None else frozenset(d for d in matches if written.get(d, True))
        earlier = [replace(one, like_day=like_day(one.day, matches, played)) for one in sets if one.day < day]
        if not counted_warmups(earlier, load):
            return None
        usual = usual_for_day(earlier, load, day, prior, like_day=like_day(day, matches, played))
        return warmup_shows(earlier, load, day, prior, usual)

    def _prior(self, connection: Connection, lift: str, day: date) -> SquadPrior:
        key = sets_key(connection, day)
        if key != self._key:
            self._key, self._priors = key, {}
        if lift not in self._priors:
            self._priors[lift] = lift_prior(connection, lift, day)
        return self._priors[lift]


def lift_prior(connection: Connection, lift: str, day: date) -> SquadPrior:
    """What the squad's days before this one teach about a lift, each athlete at the own warm-up load."""
    grouped: dict[str, list[SetObservation]] = defaultdict(list)
    for one in all_observations(connection, day - timedelta(days=HISTORY_DAYS)):
        if one.lift == lift and one.day < day:
            grouped[one.athlete_id].append(one)
    plans = roster.plans_on(connection, day)
    planned = {p["athlete_id"]: p["warmup_load_kg"] for p in plans if p["lift"] == lift}
    loads = {key: planned.get(key) or usual_warmup_load(own, day) for key, own in grouped.items()}
    return squad_prior(
        [
            warmup_series([s for s in own if s.counts], load, day)
            for key, own in grouped.items()
            if (load := loads[key])
        ]
    )
