"""What the coach's page of one athlete rests on: season, what the warm-up load can show, own limits. Computed when
history changes, not per rep."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from station.capture.rack_view import CoachNotes, RackPlan
from station.readiness.season import lifts_not_done, season_trend
from station.readiness.sensitivity import warmup_shows
from station.readiness.usual import SquadPrior, counted_warmups
from station.squad.lifts import Lift
from station.squad.sets import SetObservation
from station.store import effective
from station.store.record import Record
from station.store.rows import RepRow

FAILED = "failed"


def coach_notes(
    plan: RackPlan,
    lift: Lift,
    earlier: Sequence[SetObservation],
    day: date,
    prior: SquadPrior,
    like: str,
) -> CoachNotes:
    """Season and warm-up load of one athlete and lift.

    Args:
        earlier: sets before this session, in order of time, with the kind of day each was on; other depths marked.
        like: what kind of day today is.
    """
    load = plan.warmup_load_kg
    counted = counted_warmups(earlier, load)
    return CoachNotes(
        season=season_trend(earlier, load, day, prior),
        shows=warmup_shows(earlier, load, day, prior) if counted else None,
        like_day=like,
        like_sessions=sum(1 for s in counted if like and s.like_day == like),
        velocity_at_1rm_m_s=plan.own_velocity_at_1rm_m_s or lift.velocity_at_1rm_m_s,
        own_velocity_at_1rm=plan.own_velocity_at_1rm_m_s is not None,
    )


def overdue_lifts(record: Record, athlete_id: str, day: date) -> tuple[tuple[str, date], ...]:
    """The athlete's lifts not done for three weeks, with their last day."""
    with record.database.read() as connection:
        rows = effective.sets_of(connection, athlete_id)
    seen = (SetObservation(athlete_id, r.day, r.lift, r.load_kg, 1.0) for r in rows)
    return tuple(lifts_not_done(seen, day))


def sets_to_the_limit(
    record: Record, athlete_id: str, lift: str, but_not: str | None = None
) -> list[list[float]]:
    """Speeds of the athlete's own sets that ended with a rep that could not be done, m/s: nobody else's say
    anything about how many are left."""
    with record.database.read() as connection:
        rows = effective.sets_of(connection, athlete_id, lift)
        work = [r.set_id for r in rows if r.kind == "work" and r.set_id != but_not]
        failed = effective.reps_of_failed_sets(connection, work)
    found = [counted_speeds(failed[i]) for i in work if i in failed and _last(failed[i]).status == FAILED]
    return [speeds for speeds in found if len(speeds) > 1]


def counted_speeds(reps: Sequence[RepRow]) -> list[float]:
    """Mean velocities of the reps that count, in order, m/s."""
    return [
        r.mean_velocity_m_s
        for r in reps
        if not r.struck and r.status != FAILED and r.mean_velocity_m_s is not None
    ]


def _last(reps: Sequence[RepRow]) -> RepRow:
    """The last one that a person has not struck out."""
    kept = [r for r in reps if not r.struck]
    return (kept or list(reps))[-1]
