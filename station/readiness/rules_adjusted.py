"""The few figures of the squad day that staff may change: what each is called, its steps, and how it is kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import time
from typing import Any

from station.readiness.squad_rules import Measure, SquadRules

HALF_HOURS = tuple(time(n // 2, 30 * (n % 2)) for n in range(10, 46))  # 05:00 to 22:30


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure.

    Attributes:
        key: names it where it is kept.
        words: what it is, before its value.
        steps: what it can be, smallest first.
        read, put: out of rules, and into them.
        said: a value in words.
    """

    key: str
    words: str
    steps: tuple[Any, ...]
    read: Callable[[SquadRules], Any]
    put: Callable[[SquadRules, Any], SquadRules]
    said: Callable[[Any], str]

    def in_words(self, rules: SquadRules) -> str:
        """The value in words."""
        return self.said(self.read(rules))

    def moved(self, rules: SquadRules, by: int) -> SquadRules:
        """The rules with this figure one step up (+1) or down (-1); at the end of its steps they stay."""
        value = self.read(rules)
        further = [step for step in self.steps if (step > value if by > 0 else step < value)]
        if not further:
            return rules
        return self.put(rules, further[0] if by > 0 else further[-1])


def _plain(name: str) -> tuple[Callable[[SquadRules], Any], Callable[[SquadRules, Any], SquadRules]]:
    return (lambda rules: getattr(rules, name)), (lambda rules, value: replace(rules, **{name: value}))


def _due(measure: Measure) -> Figure:
    return Figure(
        f"due {measure}",
        f"{str(measure).capitalize()} where due is missing from",
        HALF_HOURS,
        lambda rules: rules.due_by[measure],
        lambda rules, value: replace(rules, due_by={**rules.due_by, measure: value}),
        lambda at: f"{at:%H:%M}",
    )


def _days_more(days: int) -> str:
    return "on its day" if not days else f"{days} day{'s' if days > 1 else ''} more"


FIGURES = (
    Figure(
        "below_chance",
        "Clearly below usual: a chance under",
        (0.005, 0.01, 0.025, 0.05),
        *_plain("below_chance"),
        lambda share: f"{100 * share:g} %",
    ),
    Figure("talk_from", "Talk first: measures below, from", (1, 2, 3), *_plain("talk_from"), str),
    Figure("counts_days", "A measure counts", (0, 1, 2), *_plain("counts_days"), _days_more),
    Figure(
        "open_days",
        "Pain or illness stays until closed, for",
        (7, 14, 21, 28),
        *_plain("open_days"),
        lambda days: f"{days} days",
    ),
    _due(Measure.CHECK_IN),
    _due(Measure.JUMP),
    _due(Measure.BAR),
    Figure(
        "together_sds",
        "Moved together: a rack or the squad off by",
        (2.5, 3.0, 3.5, 4.0, 5.0),
        *_plain("together_sds"),
        lambda errors: f"{errors:g} standard errors",
    ),
)


def as_row(rules: SquadRules) -> dict[str, Any]:
    """The figures as plain values, to be kept."""
    values = {figure.key: figure.read(rules) for figure in FIGURES}
    return {key: f"{v:%H:%M}" if isinstance(v, time) else v for key, v in values.items()}


def from_row(row: dict[str, Any]) -> SquadRules:
    """The rules kept as plain values; a figure that is missing or no step of its own is the delivered one."""
    rules = SquadRules()
    for figure in FIGURES:
        value = row.get(figure.key)
        if isinstance(value, str):
            value = next((step for step in figure.steps if f"{step:%H:%M}" == value), None)
        if value in figure.steps:
            rules = figure.put(rules, value)
    return rules
