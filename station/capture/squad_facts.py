"""What others write down about the athletes of a rack: medical staff, the check-in, who played. Asked anew each time.

A restriction set while the rack runs, or an answer given five minutes ago, holds from the next picture on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from station.capture.rack_view import RackPlan
from station.squad.athletes import Athlete, TrainingStatus
from station.squad.roster import holding
from station.squad.sets import SAME_LOAD
from station.squad.status import Restriction, permission
from station.store import roster
from station.store.nearby import HoldsNearby
from station.store.record import Record


def _none(_athlete_id: str, _day: date) -> Sequence[Restriction]:
    return ()


def _nothing_said(_athlete_id: str, _day: date) -> bool:
    return False


def _nobody_wrote(_athlete_id: str) -> frozenset[date] | None:
    return None


@dataclass(frozen=True, slots=True)
class SquadFacts:
    """Three questions to the record, each with an answer for a record that knows nothing.

    Attributes:
        restrictions: what medical staff set for an athlete and holds on a day; empty where they set nothing.
        answers_forbid_load: whether the athlete said pain or illness on that day. Only this yes or no ever reaches a
            rack, never the answers.
        matches_played: the matches one athlete played in; None when nobody wrote it down.
    """

    restrictions: Callable[[str, date], Sequence[Restriction]] = _none
    answers_forbid_load: Callable[[str, date], bool] = _nothing_said
    matches_played: Callable[[str], frozenset[date] | None] = _nobody_wrote


def allowed_plan(
    athlete: Athlete, plan: RackPlan | None, lift: str, day: date, facts: SquadFacts
) -> RackPlan | None:
    """The plan as far as it may be followed today: ceilings lowered, or none at all.

    None means "ask a coach before you load", for whatever reason: no plan for this lift, a restriction, being out,
    pain or illness said today, or a ceiling below the warm-up load. All look the same on the screen.
    """
    if plan is None or plan.lift != lift:
        return None
    known = list(facts.restrictions(athlete.athlete_id, day))
    if not known and athlete.status is not TrainingStatus.FULL:
        known = [Restriction(athlete.status)]  # nothing named: nothing allowed
    unwell = facts.answers_forbid_load(athlete.athlete_id, day)
    allowed = permission(lift, day, known, plan.ceiling_kg, unwell_today=unwell)
    if allowed.withheld:
        return None
    ceiling = allowed.ceiling_kg
    if ceiling is not None and ceiling < plan.warmup_load_kg * (1 - SAME_LOAD):
        return None
    return plan.with_ceiling(ceiling)


def facts_of(record: Record) -> SquadFacts:
    """The three answers out of the record, as it stands when they are asked for."""

    def restrictions(athlete_id: str, day: date) -> Sequence[Restriction]:
        with record.database.read() as connection:
            known = roster.statuses(connection).get(athlete_id, [])
        now = holding(known, day)
        return () if now is None else (now,)

    def played(athlete_id: str) -> frozenset[date] | None:
        with record.database.read() as connection:
            written = roster.played_days(connection).get(athlete_id)
            if written is None:
                return None
            # Of a match that nobody wrote down nothing is known: it counts as for everybody.
            return frozenset(d for d in roster.match_dates(connection) if written.get(d, True))

    # The check-in stands at another screen of this machine, with a record of its own.
    return SquadFacts(restrictions, HoldsNearby(record.database.folder).of, played)
