"""One session as it is printed: whose sets, rep by rep, today's warm-up beside the own usual range, what was decided.

Everything is as it stands now, corrections included; the usual range is that of the day, from what was known before.
Check-in answers are no part of it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from sqlalchemy import Connection, select

from station.capture.squad_prior import SquadPriors
from station.readiness.history import usual_warmup_load, warmup_sets, without_other_depths
from station.readiness.results import TodayAssessed, UsualRange, Verdict
from station.readiness.today import TodayInputs, assess
from station.readiness.usual import usual_for_day
from station.squad.calendar import like_day, match_day_label
from station.squad.errors import UnknownLift
from station.squad.lifts import lift_named
from station.squad.sets import SetObservation
from station.store import effective, roster
from station.store.rack_things import newest_targets
from station.store.record import Record
from station.store.rows import RepRow, SetRow
from station.store.tables import decisions

NOBODY = "nobody named"


@dataclass(frozen=True, slots=True)
class PrintedLift:
    """One athlete's sets of one lift in a session.

    Attributes:
        sets: with their reps, in order.
        warmup_load_kg: the fixed load; None: not known.
        usual: usual range at that load on that day; None without earlier sets.
        verdict, difference_m_s: the warm-up set beside it; None: not done, or not counted.
        decided: what was suggested and decided, in sentences.
        one_rm_kg: the maximum estimated from this session, with its 80 % interval: low, middle, high.
    """

    lift: str
    sets: tuple[tuple[SetRow, tuple[RepRow, ...]], ...]
    warmup_load_kg: float | None
    usual: UsualRange | None
    verdict: Verdict | None
    difference_m_s: float | None
    decided: tuple[str, ...]
    one_rm_kg: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class PrintedAthlete:
    """One athlete in one session of the day."""

    name: str
    session: int
    lifts: tuple[PrintedLift, ...]


@dataclass(frozen=True, slots=True)
class SessionSheet:
    """A day's training of the squad, or of one athlete."""

    day: date
    match_day: str
    racks: tuple[str, ...]
    athletes: tuple[PrintedAthlete, ...]


def session_sheet(
    record: Record, day: date, athlete_id: str | None = None, priors: SquadPriors | None = None
) -> SessionSheet:
    """What was lifted on a day.

    Args:
        athlete_id: of this athlete alone; None: of everybody.
        priors: kept from an earlier look; None: learned now.
    """
    with record.database.read() as connection:
        rows = [r for r in effective.sets_on(connection, day) if athlete_id in (None, r.athlete_id)]
        known = _Known(connection, day, priors or SquadPriors())
        theirs: dict[str | None, list[SetRow]] = defaultdict(list)
        for row in rows:
            theirs[row.athlete_id].append(row)
        found = [one for key, own in theirs.items() for one in known.printed(key, own)]
    found.sort(key=lambda one: (one.name == NOBODY, one.name, one.session))
    label = match_day_label(day, known.matches)
    return SessionSheet(day, label, tuple(sorted({row.rack for row in rows})), tuple(found))


class _Known:
    """What the record knew on that day."""

    def __init__(self, connection: Connection, day: date, priors: SquadPriors) -> None:
        self._connection, self._day = connection, day
        self.matches = roster.match_dates(connection)
        self._played = roster.played_days(connection)
        self._names = {line.athlete.athlete_id: line.athlete.name for line in roster.roster(connection, day)}
        plans = roster.plans_on(connection, day)
        self._plans = {(p["athlete_id"], p["lift"]): p["warmup_load_kg"] for p in plans}
        self._priors = priors
        self._own_1rm = newest_targets(connection)

    def printed(self, athlete_id: str | None, rows: Sequence[SetRow]) -> list[PrintedAthlete]:
        """One athlete's sessions of the day."""
        sessions: dict[int, dict[str, list[SetRow]]] = defaultdict(lambda: defaultdict(list))
        for row in effective.own_sessions(rows):
            sessions[row.session][row.lift].append(row)
        name = self._names.get(athlete_id or "", NOBODY if athlete_id is None else "no name")
        return [
            PrintedAthlete(
                name, n, tuple(self._lift(athlete_id, n, lift, own) for lift, own in lifts.items())
            )
            for n, lifts in sorted(sessions.items())
        ]

    def _lift(self, athlete_id: str | None, session: int, lift: str, rows: Sequence[SetRow]) -> PrintedLift:
        sets = tuple((row, tuple(effective.reps_that_hold(self._connection, row.set_id))) for row in rows)
        decided = self._decided([row.set_id for row in rows])
        if athlete_id is None:
            return PrintedLift(lift, sets, None, None, None, None, decided)
        seen = self._seen(athlete_id, lift)
        load = self._plans.get((athlete_id, lift)) or usual_warmup_load(seen, self._day + timedelta(days=1))
        if load is None:
            return PrintedLift(lift, sets, None, None, None, None, decided)
        earlier = [s for s in seen if (s.day, s.session) < (self._day, session)]
        now = [s for s in seen if (s.day, s.session) == (self._day, session)]
        usual, assessed = self._judged(athlete_id, lift, load, earlier, now)
        if assessed is None:
            return PrintedLift(lift, sets, load, usual, None, None, decided)
        difference = assessed.mean_velocity_m_s - assessed.usual.expected_m_s
        return PrintedLift(lift, sets, load, usual, assessed.verdict, difference, decided, _maximum(assessed))

    def _seen(self, athlete_id: str, lift: str) -> list[SetObservation]:
        played = self._played.get(athlete_id)
        in_them = {day for day, was in played.items() if was} if played is not None else None
        found = without_other_depths(effective.observations(self._connection, athlete_id, lift))
        return [
            replace(s, like_day=like_day(s.day, self.matches, in_them)) for s in found if s.day <= self._day
        ]

    def _judged(
        self,
        athlete_id: str,
        lift: str,
        load: float,
        earlier: Sequence[SetObservation],
        now: Sequence[SetObservation],
    ) -> tuple[UsualRange | None, TodayAssessed | None]:
        done = [s for s in warmup_sets(now, load) if s.counts]
        prior = self._priors.prior(self._connection, lift, self._day, self._plans)
        try:
            known = lift_named(lift) if done else None
        except UnknownLift:
            known = None
        if known is None:
            found = usual_for_day(earlier, load, self._day, prior) if earlier or done else None
            return found, None
        target = self._own_1rm.get((athlete_id, lift))
        own_1rm_m_s = target.velocity_at_1rm_m_s if target is not None else None
        ramp = [s for s in now if s.counts]
        assessed = assess(TodayInputs(known, load, earlier, done[0], prior, ramp, own_1rm_m_s))
        return assessed.usual, assessed

    def _decided(self, set_ids: Sequence[str]) -> tuple[str, ...]:
        d = decisions.c
        query = select(d.sentence, d.decision, d.load_kg, d.staff).where(d.set_id.in_(set_ids)).order_by(d.id)
        said = []
        for row in self._connection.execute(query):
            load = f", {row.load_kg:g} kg" if row.load_kg is not None else ""
            said.append(
                f"{row.sentence} Decided: {row.decision}{load} ({row.staff or 'nobody signed in'}).".strip()
            )
        return tuple(said)


def _maximum(found: TodayAssessed) -> tuple[float, float, float] | None:
    low, middle, high = found.today_1rm_low_kg, found.today_1rm_kg, found.today_1rm_high_kg
    return None if low is None or middle is None or high is None else (low, middle, high)
