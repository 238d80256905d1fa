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
    spare = Counter(dict(rack.pairs)) - hung
    if more > 0 and (add := reachable(replace(rack, pairs=_sorted(spare))).get(more)) is not None:
        made, words = _sorted(hung + Counter(dict(add))), f"add {_words(dict(add))} a side"
    elif more < 0 and (off := reachable(replace(rack, pairs=_sorted(hung))).get(-more)) is not None:
        made, words = _sorted(hung - Counter(dict(off))), f"take {_words(dict(off))} off a side"
    else:
        new = Counter(dict(wanted.plates))
        made, words = wanted.plates, f"{_words(hung - new)} off, {_words(new - hung)} on a side"
    total = total_kg(rack, side_of(rack, made))
    before = load_words(now.total_kg, unit).removesuffix(f" {unit}")
    return BarChange(PlatesPerSide(made, rack.unit, total), f"{before} to {load_words(total, unit)}: {words}")


def _sorted(plates: Mapping[float, int]) -> tuple[tuple[float, int], ...]:
    return tuple(sorted(((mass, n) for mass, n in plates.items() if n > 0), reverse=True))


def _words(plates: Mapping[float, int]) -> str:
    return " + ".join(f"{n} × {mass:g}" if n > 1 else f"{mass:g}" for mass, n in _sorted(plates))
