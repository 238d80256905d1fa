"""The load suggestion: the planned load scaled to today's strength, in one sentence with its reason.

A suggestion is a suggestion: it never passes the coach's ceiling or the allowed change, is rounded down to what the
plates can make, and says "keep the plan" inside the noise. A coach decides.
"""

from __future__ import annotations

from dataclasses import dataclass

from station.readiness.plates import PlateSet, load_at_least, load_within, load_words
from station.readiness.results import PlatesPerSide, Suggestion, TodayAssessed, Verdict
from station.readiness.suggestion_rules import DEFAULT_RULES
from station.readiness.suggestion_rules import SuggestionRules as SuggestionRules
from station.readiness.today import WORTHWHILE_STRENGTH

ASK_A_COACH = "Ask a coach before you load."
CAUTION = "A suggestion, not an order: stop on pain; a coach decides."
KG_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Target:
    """A velocity that the plan asks for, and the load that meets it today (`load_for_velocity_kg`)."""

    velocity_m_s: float
    load_kg: float


def suggest(
    assessed: TodayAssessed | None,
    warmup_load_kg: float,
    planned_kg: float | None,
    ceiling_kg: float | None,
    plates: PlateSet,
    rules: SuggestionRules = DEFAULT_RULES,
    *,
    withheld: bool = False,
    target: Target | None = None,
    unit: str = "kg",
) -> Suggestion:
    """A load for today.

    Args:
        assessed: today's warm-up set against the usual range; None before it is done.
        warmup_load_kg: the fixed load it was lifted at, for the sentence.
        planned_kg: the plan; without one nothing is suggested.
        ceiling_kg: never above this.
        plates: what this rack can load.
        rules: the allowed change.
        withheld: pain, illness or a restriction. The words are the same as without a plan, so that they tell
            nobody why.
        target: suggest the load for this velocity, within the same limits, instead of the scaled plan.
        unit: "kg" or "lb", for the sentence.
    """
    if planned_kg is None or withheld:
        return Suggestion(None, None, None, ASK_A_COACH, "", CAUTION)
    limit = planned_kg if ceiling_kg is None else min(planned_kg, ceiling_kg)
    planned = load_within(plates, limit)
    if planned is None:
        return Suggestion(None, planned_kg, None, ASK_A_COACH, "", CAUTION)
    if assessed is None:
        return Suggestion(planned.total_kg, planned_kg, planned, f"{_keep(planned, unit)}.", "", CAUTION)
    made = _made(
        plates,
        _wanted_kg(assessed, planned_kg, ceiling_kg, rules, target),
        planned,
        planned_kg * (1.0 - rules.most_down),
    )
    return Suggestion(
        made.total_kg,
        planned_kg,
        made,
        _sentence(assessed, made, planned_kg, warmup_load_kg, target, unit),
        sureness(assessed),
        CAUTION,
    )


def _wanted_kg(
    assessed: TodayAssessed,
    planned_kg: float,
    ceiling_kg: float | None,
    rules: SuggestionRules,
    target: Target | None,
) -> float:
    """The scaled load before plates, kg: monotone in today's velocity, never past ceiling or allowed change."""
    ratio = 1.0 + strength_change(assessed)
    if target is not None and assessed.verdict is not Verdict.TOO_LITTLE_HISTORY:
        ratio = target.load_kg / planned_kg
    allowed = min(max(ratio, 1.0 - rules.most_down), 1.0 + rules.most_up)
    return min(planned_kg * allowed, ceiling_kg if ceiling_kg is not None else float("inf"))


def _made(plates: PlateSet, wanted_kg: float, planned: PlatesPerSide, lowest_kg: float) -> PlatesPerSide:
    """What the plates make of the wanted load: rounded down, but not past the allowed change downwards."""
    down = load_within(plates, wanted_kg + KG_TOLERANCE)
    if down is not None and down.total_kg >= lowest_kg - KG_TOLERANCE:
        return down
    up = load_at_least(plates, lowest_kg)
    return up if up is not None and up.total_kg <= planned.total_kg else planned


def strength_change(assessed: TodayAssessed) -> float:
    """Today's change of strength as a share; exactly 0 inside the usual range or with too little history.

    5 % of strength moves the warm-up speed by the smallest worthwhile change, so the change of speed measured in
    that unit is the change of strength. The change is the estimated one, without what the set's own noise explains.
    """
    if assessed.verdict not in (Verdict.SLOWER, Verdict.FASTER):
        return 0.0
    return WORTHWHILE_STRENGTH * assessed.change_m_s / max(assessed.smallest_worthwhile_m_s, 1e-6)


def sureness(assessed: TodayAssessed) -> str:
    """In words, how sure the direction of the suggestion is."""
    if assessed.verdict is Verdict.TOO_LITTLE_HISTORY:
        return "not sure: too little history"
    if assessed.verdict is Verdict.AS_USUAL:
        return "fairly sure" if assessed.usual.sessions < 6 else "quite sure"
    chance = max(assessed.probability_slower, assessed.probability_faster)
    return "quite sure" if chance >= 0.80 else "fairly sure" if chance >= 0.50 else "not very sure"


def _keep(planned: PlatesPerSide, unit: str) -> str:
    return f"Keep the plan: {load_words(planned.total_kg, unit)}"


def _sentence(
    assessed: TodayAssessed,
    made: PlatesPerSide,
    planned_kg: float,
    warmup_load_kg: float,
    target: Target | None,
    unit: str,
) -> str:
    load, at = load_words(made.total_kg, unit), load_words(warmup_load_kg, unit)
    difference = assessed.mean_velocity_m_s - assessed.usual.expected_m_s
    if assessed.verdict is Verdict.TOO_LITTLE_HISTORY:
        return f"{_keep(made, unit)}, too little history at {at} to say more."
    if target is not None:
        return f"{load} for about {target.velocity_m_s:.2f} m/s today."
    if assessed.verdict is Verdict.AS_USUAL:
        return f"{_keep(made, unit)}, as usual at {at}."
    word = "slower" if difference < 0 else "faster"
    reason = f"{abs(difference):.2f} m/s {word} than usual at {at}"
    if made.total_kg < planned_kg and difference < 0:
        return f"Ease to {load}: {reason}."
    if made.total_kg > planned_kg:
        return f"Go up to {load}: {reason}."
    return f"{_keep(made, unit)}, though {reason}."
