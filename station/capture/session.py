"""Today's session at one rack, read out of the record and kept until something changes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from station.capture.coach_notes import counted_speeds, overdue_lifts, sets_to_the_limit
from station.capture.lineup import warmup_done
from station.capture.rack_setup import RackSetup
from station.capture.rack_view import CoachNotes, RackPlan, SetView
from station.capture.session_decisions import SessionDecisions
from station.capture.session_sets import WARM_UP, SessionSets
from station.capture.set_view import SetFacts, set_view
from station.capture.squad_facts import allowed_plan
from station.capture.today import (
    NOBODY,
    AthleteToday,
    Setting,
    athlete_today,
    learn_prior,
    next_load_kg,
    usual_at_load,
)
from station.readiness.history import differs
from station.readiness.results import UsualRange
from station.readiness.suggestion_rules import SuggestionRules
from station.readiness.usual import NO_SQUAD, SquadPrior
from station.readiness.within_set import RepsLeft, reps_left, velocity_loss
from station.squad.athletes import Athlete
from station.squad.lifts import Lift, lift_named
from station.squad.sets import same_load
from station.store.record import Record
from station.store.rows import SetRow


class Session:
    """What the record says about today; the answers are kept until the sets behind them change.

    Attributes:
        setup: who and what the rack has.
        day: the local day.
        number: which session of that day.
        sets, decisions: what was lifted and decided in it.
        equipment: sensor and bar in use now; "" when unknown.
    """

    equipment = ""

    def __init__(self, record: Record, setup: RackSetup, day: date) -> None:
        self._record, self.setup, self.day = record, setup, day
        self.number = record.session_now(day)
        self.sets = SessionSets(record, day, self.number, self.plan)
        self.decisions = SessionDecisions(record, self.sets, lambda who, lift: self.of(who, lift).suggestion)
        self._matches = tuple(record.matches())
        self._priors: dict[str, SquadPrior] = {}
        self._today: dict[tuple[str, Lift, RackPlan | None, Setting], AthleteToday] = {}
        self._limits: dict[tuple[str, str], list[list[float]]] = {}
        self._allowed: dict[tuple[str, str], RackPlan | None] = {}
        self._played: dict[str, frozenset[date] | None] = {}
        self._not_done: dict[str, tuple[tuple[str, date], ...]] = {}
        self._usual: dict[tuple[str, str, float], UsualRange | None] = {}
        self._open_set_id: str | None = None

    # -- asking ----------------------------------------------------------------------------------------------

    def athlete(self, athlete_id: str | None) -> Athlete | None:
        """Anybody of the squad."""
        return next((a for a in self.setup.squad if a.athlete_id == athlete_id), None)

    def plan(self, athlete_id: str | None, lift: str) -> RackPlan | None:
        """The plan as far as it may be followed today; None: ask a coach."""
        athlete = self.athlete(athlete_id)
        if athlete is None:
            return None
        key = (athlete.athlete_id, lift)
        if key not in self._allowed:
            plan = self.setup.plans.get(key)
            self._allowed[key] = allowed_plan(athlete, plan, lift, self.day, self.setup.facts)
        return self._allowed[key]

    def look_anew(self) -> None:
        """Ask again what medical staff and today's answers allow: before each picture between sets."""
        self._allowed.clear()

    def prepare(self, athlete_id: str | None, lift: str, load_kg: float) -> None:
        """Read before the set what its first rep's picture rests on, so that the number does not wait for it."""
        if athlete_id is not None and self._open_set_id is None:
            self.usual_at(athlete_id, lift, load_kg)
            self._to_the_limit(athlete_id, lift)

    def of(self, athlete_id: str | None, lift: str) -> AthleteToday:
        """History, usual range, verdict and suggestion of one athlete."""
        athlete = self.athlete(athlete_id)
        if athlete is None:
            return NOBODY
        setting = self._setting(athlete.athlete_id)
        key = (athlete.athlete_id, lift_named(lift), self.plan(athlete_id, lift), setting)
        if key not in self._today:
            # The open set speaks once it is over: a suggestion after its first rep would be too early.
            sets = self._record.observations(athlete.athlete_id, lift, but_not=self._open_set_id)
            self._today[key] = athlete_today(key[2], key[1], sets, setting, self._prior(lift))
        return self._today[key]

    def _setting(self, athlete_id: str) -> Setting:
        setup = self.setup
        if athlete_id not in self._played:
            self._played[athlete_id] = setup.facts.matches_played(athlete_id)
        return Setting(
            self.day,
            self.sets.own(athlete_id).number,
            self._matches,
            setup.plates,
            setup.settings.unit,
            self._played[athlete_id],
            self.equipment,
            SuggestionRules(setup.settings.most_down, setup.settings.most_up),
        )

    def look_at_the_clock(self) -> None:
        """Somebody comes to the bar: three hours may have passed since the own last set."""
        self.sets.look_at_the_clock()
        self.decisions.forget()

    def coach_notes(self, athlete_id: str | None, lift: str) -> CoachNotes | None:
        """What the coach's page says: kept with the athlete's history, but for the reps left of the open set."""
        notes = self.of(athlete_id, lift).coach
        if notes is None or athlete_id is None:
            return None
        return replace(notes, not_done=self._overdue(athlete_id), reps_left=self._reps_left(athlete_id, lift))

    def _overdue(self, athlete_id: str) -> tuple[tuple[str, date], ...]:
        if athlete_id not in self._not_done:
            self._not_done[athlete_id] = overdue_lifts(self._record, athlete_id, self.day)
        return self._not_done[athlete_id]

    def _reps_left(self, athlete_id: str, lift: str) -> RepsLeft | None:
        row = self.sets.row(self._open_set_id)
        if row is None or (row.athlete_id, row.lift, row.kind) != (athlete_id, lift, "work"):
            return None
        limits = self._to_the_limit(athlete_id, lift)
        if not limits:
            return None
        speeds = counted_speeds(self._record.reps_of(row.set_id))
        losses = [velocity_loss(speeds[: n + 1]) or 0.0 for n in range(len(speeds))]
        return reps_left(losses, limits)

    def _to_the_limit(self, athlete_id: str, lift: str) -> list[list[float]]:
        key = (athlete_id, lift)
        if key not in self._limits:
            open_set = self._open_set_id
            self._limits[key] = sets_to_the_limit(self._record, athlete_id, lift, but_not=open_set)
        return self._limits[key]

    def usual_at(self, athlete_id: str | None, lift: str, load_kg: float) -> UsualRange | None:
        """The usual range at the load on the bar; at the warm-up load the one today is judged by."""
        if athlete_id is None:
            return None
        now = self.of(athlete_id, lift)
        at_warmup = now.warmup_load_kg is not None and same_load(now.warmup_load_kg, load_kg)
        if at_warmup and (now.history or self._prior(lift) != NO_SQUAD):
            return now.usual  # without own history the squad's, dashed
        key = (athlete_id, lift, load_kg)
        if key not in self._usual:
            sets = self._record.observations(athlete_id, lift)
            self._usual[key] = usual_at_load(sets, load_kg, self._setting(athlete_id), self._prior(lift))
        return self._usual[key]

    def cautions_due(self, lift: Lift) -> bool:
        """Whether the cautions stand on the screen: before the first set, and before the first that can pin
        somebody."""
        lifted = {s.lift for s in self.sets.all}
        return not lifted or (lift.can_pin and not any(lift_named(name).can_pin for name in lifted))

    def warmup_done(self, plan: RackPlan) -> bool:
        """Whether the athlete of this plan has done the warm-up set."""
        return warmup_done(plan, self.sets.of(plan.athlete_id))

    def next_load_kg(self, athlete_id: str | None, lift: str) -> float | None:
        """What this athlete lifts next, kg; None without a plan for this lift."""
        plan = self.plan(athlete_id, lift)
        if plan is None or athlete_id is None:
            return None
        loads = [row.load_kg for row in self.sets.own(athlete_id).rows if row.lift == lift]
        return next_load_kg(plan, loads, self.decisions.load_kg(athlete_id, lift), self.setup.plates)

    def last_used_kg(self, athlete_id: str | None, lift: str) -> float | None:
        """The load of this athlete's latest set of this lift, today's or an earlier one, kg; None without any."""
        return self.of(athlete_id, lift).last_used_kg

    def set_view(self, set_id: str, athlete_id: str | None, is_open: bool) -> SetView | None:
        """A set of this session with its reps."""
        row = self.sets.row(set_id)
        if row is None:
            return None
        plan = self.plan(athlete_id, row.lift)
        mine = self.sets.of(row.athlete_id, row.lift)
        kind = next((s.kind for s in mine if s.set_id == set_id), row.kind)
        alike = [s for s in mine if s.kind == kind]
        number = next((n for n, s in enumerate(alike, 1) if s.set_id == set_id), 1)
        facts = SetFacts(
            set_id,
            row.load_kg,
            "warm-up" if kind == WARM_UP else "work",
            number,
            is_open,
            plan.stop_loss if plan else None,
            not row.full_effort,
        )
        seen = set_view(facts, self._record.reps_of(set_id))
        return seen if is_open else replace(seen, different_depth=self._different_depth(row))

    def _different_depth(self, row: SetRow) -> bool:
        """Whether a finished set was lifted over another range of motion than this athlete's usual."""
        if row.athlete_id is None:
            return False
        own = [r for r in self._record.reps_of(row.set_id) if r.displacement_m and r.status == "measured"]
        if not own:
            return False
        fastest = max(own, key=lambda r: r.mean_velocity_m_s or 0.0)
        return differs(fastest.displacement_m, self.of(row.athlete_id, row.lift).usual_depth_m)

    # -- telling ---------------------------------------------------------------------------------------------

    def set_begins(self, set_id: str) -> None:
        """A set began; what is known of its athlete stays, since an open set does not speak."""
        self._open_set_id = set_id
        self.sets.forget()

    def set_ends(self, athlete_id: str | None) -> None:
        """The open set ended; it now speaks for this athlete."""
        self._open_set_id = None
        self._forget(athlete_id)

    def _forget(self, athlete_id: str | None) -> None:
        self._today = {key: value for key, value in self._today.items() if key[0] != athlete_id}
        self._limits.clear()
        self._not_done.clear()

    def everything_changed(self) -> None:
        """A correction may concern anybody."""
        self.sets.forget()
        self.decisions.forget()
        self._today.clear()
        self._usual.clear()
        self._allowed.clear()
        self._played.clear()
        self._limits.clear()
        self._not_done.clear()

    def _prior(self, lift: str) -> SquadPrior:
        if lift not in self._priors:
            plans = [p for p in self.setup.plans.values() if p.lift == lift]
            histories = [(p, self._record.observations(p.athlete_id, lift)) for p in plans]
            self._priors[lift] = learn_prior(histories, self.day)
        return self._priors[lift]
