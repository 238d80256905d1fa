"""How far a suggestion may go from the plan: a coach may set it, and no suggestion passes it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SuggestionRules:
    """Shares of the planned load."""

    most_down: float = 0.10
    most_up: float = 0.05


DEFAULT_RULES = SuggestionRules()
