"""What the plates of a rack can make: the heaviest loadable mass not above a limit, with the fewest plates."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from station.readiness.results import PlatesPerSide

KG_PER_LB = 0.45359237  # exact, by definition of the international pound

_HAIR = 4e-4  # of a thousandth of the unit on one side: less than a milligram
_UNIT_KG = {"kg": 1.0, "lb": KG_PER_LB}


@dataclass(frozen=True, slots=True)
class PlateSet:
    """Bar, collars, sensor and plates of one rack. What is written on a plate is what people look for; it weighs
    what the scale said.

    Attributes:
        pairs: (what is written on one plate, how many pairs), in `unit`.
        weighed: (what is written on it, what one weighs), in `unit`, for plates that were put on a scale.
        bar_kg: weighed mass of the bar, kg.
        collars_kg: both collars together, kg.
        sensor_kg: the sensor on the bar, kg.
    """

    pairs: tuple[tuple[float, int], ...]
    unit: str = "kg"
    bar_kg: float = 20.0
    collars_kg: float = 0.0
    sensor_kg: float = 0.0
    weighed: tuple[tuple[float, float], ...] = ()

    @property
    def empty_kg(self) -> float:
        """What is lifted with no plate on."""
        return self.bar_kg + self.collars_kg + self.sensor_kg


# Competition discs (25, 20, 15, 10, 5, 2.5, 2, 1.5, 1, 0.5 kg: IWF; 1.25 kg: IPF) as a rack commonly has them
# (common practice, no source for how many).
KG_RACK = PlateSet(
    ((25, 3), (20, 2), (15, 1), (10, 2), (5, 2), (2.5, 1), (2, 1), (1.5, 1), (1.25, 1), (1, 1), (0.5, 1)),
    "kg",
)
# Common pound plates (reference handbooks; common practice, no source for the numbers).
LB_RACK = PlateSet(((45, 4), (35, 1), (25, 2), (10, 2), (5, 2), (2.5, 2)), "lb", bar_kg=45 * KG_PER_LB)


def load_words(load_kg: float, unit: str = "kg") -> str:
    """A load in words, "60 kg" or "132.5 lb"."""
    if unit == "lb":
        return f"{round(load_kg / KG_PER_LB * 2) / 2:g} lb"
    return f"{round(load_kg, 2):g} kg"


def load_within(plates: PlateSet, limit_kg: float) -> PlatesPerSide | None:
    """The heaviest load that is not above `limit_kg`; None when the empty bar is already heavier.

    Among equal masses the one with the fewest plates. A limit that arithmetic has left a hair too low, such as
    59.9999995, does not lose a plate.
    """
    per_unit = _UNIT_KG[plates.unit]
    room = math.floor((limit_kg - plates.empty_kg) / per_unit / 2 * 1000 + _HAIR)
    if room < 0:
        return None
    return _loaded(plates, max(mass for mass in reachable(plates) if mass <= room))


def load_at_least(plates: PlateSet, limit_kg: float) -> PlatesPerSide | None:
    """The lightest load that is not below `limit_kg`; None when the rack has too few plates."""
    per_unit = _UNIT_KG[plates.unit]
    room = math.ceil((limit_kg - plates.empty_kg) / per_unit / 2 * 1000 - _HAIR)
    enough = [mass for mass in reachable(plates) if mass >= room]
    if not enough:
        return None
    return _loaded(plates, min(enough))


def _loaded(plates: PlateSet, side: int) -> PlatesPerSide:
    return PlatesPerSide(reachable(plates)[side], plates.unit, total_kg(plates, side))


def total_kg(plates: PlateSet, side: int) -> float:
    """Everything on the bar, kg, with so many thousandths of the unit on each side."""
    return plates.empty_kg + 2 * side / 1000 * _UNIT_KG[plates.unit]


def side_of(plates: PlateSet, hung: tuple[tuple[float, int], ...]) -> int:
    """What hangs on one side, thousandths of the unit."""
    weighed = dict(plates.weighed)
    return sum(n * round(weighed.get(mass, mass) * 1000) for mass, n in hung)


def reachable(plates: PlateSet) -> dict[int, tuple[tuple[float, int], ...]]:
    """Every mass one sleeve can hold, in thousandths of the unit, with its fewest plates, heaviest first."""
    return _reachable(plates.pairs, plates.weighed)


@lru_cache(maxsize=64)
def _reachable(
    pairs: tuple[tuple[float, int], ...], weighed: tuple[tuple[float, float], ...]
) -> dict[int, tuple[tuple[float, int], ...]]:
    on_the_scale = dict(weighed)
    best: dict[int, tuple[tuple[float, int], ...]] = {0: ()}
    for mass, count in sorted(pairs, reverse=True):
        step = round(on_the_scale.get(mass, mass) * 1000)
        grown = dict(best)
        for held, plates in best.items():
            for n in range(1, count + 1):
                candidate = (*plates, (mass, n))
                known = grown.get(held + n * step)
                if known is None or _number(candidate) < _number(known):
                    grown[held + n * step] = candidate
        best = grown
    return best


def _number(plates: tuple[tuple[float, int], ...]) -> int:
    return sum(n for _, n in plates)
