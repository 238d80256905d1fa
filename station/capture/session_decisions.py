"""What was decided about this session's suggestions, out of the record: a restarted station knows it, and it moves
with its set."""

from __future__ import annotations

from collections.abc import Callable

from station.capture.rack_view import Decision
from station.capture.session_sets import SessionSets
from station.readiness.results import Suggestion
from station.store.rack_things import newest_decisions
from station.store.record import Record

TAKEN_BACK = "taken back"
SuggestionFor = Callable[[str | None, str], Suggestion | None]
"""The suggestion for an athlete and a lift, if one was made."""


class SessionDecisions:
    """Reads and records decisions; they hang on the warm-up set that the suggestion was made after.

    Args:
        sets: the session's sets.
        suggestion_for: what there is to decide about.
    """

    def __init__(self, record: Record, sets: SessionSets, suggestion_for: SuggestionFor) -> None:
        self._record, self._sets, self._suggestion_for = record, sets, suggestion_for
        self._newest: dict[tuple[str, str], tuple[Decision, float | None]] | None = None

    def forget(self) -> None:
        """They are read anew when next asked for: somebody decided elsewhere, or the sets changed."""
        self._newest = None

    def of(self, athlete_id: str | None, lift: str) -> Decision | None:
        """What was decided about this athlete's suggestion."""
        decided = self._decisions().get((athlete_id or "", lift))
        return decided[0] if decided else None

    def load_kg(self, athlete_id: str | None, lift: str) -> float | None:
        """The load that was decided for."""
        decided = self._decisions().get((athlete_id or "", lift))
        return decided[1] if decided else None

    def possible(self, athlete_id: str, lift: str) -> bool:
        """Whether a suggestion of this session waits for a decision, or had one."""
        warmed_up = bool(self._sets.warmups_of(athlete_id, lift))
        return warmed_up and self._suggestion_for(athlete_id, lift) is not None

    def decide(
        self, athlete_id: str | None, lift: str, decision: Decision, load_kg: float | None, staff: str | None
    ) -> float | None:
        """Record a decision; the load it means, or None when there is no suggestion to decide about."""
        made, warmups = self._suggestion_for(athlete_id, lift), self._sets.warmups_of(athlete_id, lift)
        if athlete_id is None or made is None or not warmups:
            return None
        chosen = {Decision.USE: made.load_kg, Decision.CHANGE: load_kg}.get(decision, made.planned_kg)
        self._record.decide(
            warmups[-1].set_id,
            {
                "suggested_load_kg": made.load_kg,
                "planned_load_kg": made.planned_kg,
                "sentence": made.sentence,
                "decision": decision.value,
                "load_kg": chosen,
                "staff": staff,
            },
        )
        self.forget()
        return chosen

    def take_back(self, athlete_id: str, lift: str, staff: str | None) -> None:
        """Undecided again: the plan is kept until somebody decides."""
        warmups = self._sets.warmups_of(athlete_id, lift)
        if warmups:
            row = {"sentence": "", "decision": TAKEN_BACK, "staff": staff}
            self._record.decide(warmups[-1].set_id, row)
        self.forget()

    def _decisions(self) -> dict[tuple[str, str], tuple[Decision, float | None]]:
        if self._newest is None:
            whose = {
                s.set_id: (s.athlete_id, s.lift)
                for s in self._sets.all
                if s.athlete_id is not None and s.set_id in self._sets.own(s.athlete_id).set_ids
            }
            rows = newest_decisions(self._record, list(whose))
            self._newest = {whose[i]: (Decision(d), load) for i, d, load in rows if d != TAKEN_BACK}
        return self._newest
