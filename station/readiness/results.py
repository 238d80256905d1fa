"""What the statistics say, as values: usual range, verdict, today's strength, suggestion, plates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Verdict(StrEnum):
    """Where today's warm-up speed lies in the athlete's own usual range."""

    SLOWER = "slower"
    AS_USUAL = "as usual"
    FASTER = "faster"
    TOO_LITTLE_HISTORY = "too little history"


@dataclass(frozen=True, slots=True)
class UsualRange:
    """Where the athlete's own next value is expected with 80 % probability when nothing has changed.

    Attributes:
        low_m_s, expected_m_s, high_m_s: the interval and its middle, m/s.
        sd_m_s: standard deviation of the prediction, m/s.
        sessions: earlier sessions it rests on.
        enough_history: at least three earlier sessions; without, the squad's prior draws the range (dashed).
    """

    low_m_s: float
    expected_m_s: float
    high_m_s: float
    sd_m_s: float
    sessions: int
    enough_history: bool


@dataclass(frozen=True, slots=True)
class WarmupPoint:
    """One earlier session's (or today's) fastest counted rep at the fixed warm-up load."""

    day: date
    mean_velocity_m_s: float
    match_day_label: str = ""
    equipment_changed: bool = False
    counted: bool = True


@dataclass(frozen=True, slots=True)
class PlatesPerSide:
    """What hangs on each sleeve, heaviest first.

    Attributes:
        plates: (mass of one plate in the plate set's own unit, how many on each side).
        unit: "kg" or "lb".
        total_kg: bar, collars, sensor and all plates, kg.
    """

    plates: tuple[tuple[float, int], ...]
    unit: str
    total_kg: float

    def in_words(self) -> str:
        """For the screen: "20 + 2 x 5 kg a side", or "empty bar"."""
        if not self.plates:
            return "empty bar"
        parts = [f"{n} × {mass:g}" if n > 1 else f"{mass:g}" for mass, n in self.plates]
        return f"{' + '.join(parts)} {self.unit} a side"


@dataclass(frozen=True, slots=True)
class TodayAssessed:
    """Today's warm-up set against the athlete's own history.

    Attributes:
        today_1rm_kg, today_1rm_low_kg, today_1rm_high_kg: estimate with its 80 % interval, or None.
        extrapolated: today's loads are below 60 % of the estimate.
        change_m_s: today's true change of speed as estimated: the set's own noise taken out, m/s.
    """

    verdict: Verdict
    mean_velocity_m_s: float
    usual: UsualRange
    smallest_worthwhile_m_s: float
    probability_slower: float
    probability_faster: float
    today_1rm_kg: float | None
    today_1rm_low_kg: float | None
    today_1rm_high_kg: float | None
    extrapolated: bool
    change_m_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A load for today in a sentence with its reason; a coach decides.

    Attributes:
        load_kg: the suggested load, or None when nothing is suggested.
        planned_kg: what the plan said, or None.
        sentence: e.g. "Ease to 95 kg: 0.06 m/s slower than usual at 60 kg."
        sureness: "quite sure", "fairly sure", "not sure".
        caution: one line.
    """

    load_kg: float | None
    planned_kg: float | None
    plates: PlatesPerSide | None
    sentence: str
    sureness: str
    caution: str
