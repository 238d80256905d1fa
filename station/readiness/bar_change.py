"""What changes on the bar from one load to the next: plates are added, or taken off, where that will do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from station.readiness.plates import PlateSet, load_within, load_words, reachable, side_of, total_kg
from station.readiness.results import PlatesPerSide


@dataclass(frozen=True, slots=True)
class BarChange:
    """The plates for the next load, and what to do: "100 to 120 kg: add 10 a side", or "" when nothing changes."""

    plates: PlatesPerSide
    words: str


def change_on_bar(rack: PlateSet, now: PlatesPerSide | None, limit_kg: float, unit: str) -> BarChange | None:
    """The heaviest load within the limit, made from what hangs on the bar.

    Args:
        rack: what there is.
        now: what hangs on each side; None when nobody knows.
        unit: "kg" or "lb", for the two loads; plates are in the rack's own unit.

    Returns:
        None when the empty bar is already heavier.
    """
    wanted = load_within(rack, limit_kg)
    if wanted is None or now is None or now.unit != rack.unit:
        return BarChange(wanted, "") if wanted else None
    more = side_of(rack, wanted.plates) - side_of(rack, now.plates)
    if more == 0:
        return BarChange(now, "")
    hung = Counter(dict(now.plates))
    off, add = _fewest_moved(rack, hung, more)
    made = _sorted(hung - off + add)
    words = _in_words(off, add)
    total = total_kg(rack, side_of(rack, made))
    before = load_words(now.total_kg, unit).removesuffix(f" {unit}")
    return BarChange(PlatesPerSide(made, rack.unit, total), f"{before} to {load_words(total, unit)}: {words}")


def _fewest_moved(rack: PlateSet, hung: Counter[float], more: int) -> tuple[Counter[float], Counter[float]]:
    """Which plates come off and which go on each side, so that few are moved and the side is `more` heavier."""
    spare = reachable(replace(rack, pairs=_sorted(Counter(dict(rack.pairs)) - hung)))
    ways = [
        (Counter(dict(off)), Counter(dict(spare[more + mass])))
        for mass, off in reachable(replace(rack, pairs=_sorted(hung))).items()
        if more + mass in spare
    ]
    if not ways:  # plates that hang there are needed twice: all off, then as the rack makes it
        made = reachable(rack)[side_of(rack, _sorted(hung)) + more]
        return hung - Counter(dict(made)), Counter(dict(made)) - hung
    return min(ways, key=lambda way: (way[0].total() + way[1].total(), way[0].total()))


def _in_words(off: Counter[float], add: Counter[float]) -> str:
    if not off:
        return f"add {_words(add)} a side"
    return f"take {_words(off)} off a side" if not add else f"{_words(off)} off, {_words(add)} on a side"


def _sorted(plates: Mapping[float, int]) -> tuple[tuple[float, int], ...]:
    return tuple(sorted(((mass, n) for mass, n in plates.items() if n > 0), reverse=True))


def _words(plates: Mapping[float, int]) -> str:
    return " + ".join(f"{n} × {mass:g}" if n > 1 else f"{mass:g}" for mass, n in _sorted(plates))
