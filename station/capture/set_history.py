"""What was corrected, decided and written about a set, in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from station.capture.rack_view import Unit
from station.capture.review_log import named
from station.readiness.plates import load_words
from station.squad.athletes import Athlete
from station.store.effective import MEASURED_AGAIN
from station.store.set_detail import Corrected, SetDetail


def history_words(detail: SetDetail, squad: Mapping[str, Athlete], unit: Unit) -> list[str]:
    """What happened to the set after it was lifted, oldest first, in sentences."""
    names = {rep.row.rep_id: f"rep {rep.row.number or 'that turned back'}" for rep in detail.reps}
    was: dict[tuple[str, str], object] = {
        (detail.set.set_id, "athlete_id"): detail.lifted_by,
        (detail.set.set_id, "lift"): detail.lift_then,
        (detail.set.set_id, "load_kg"): detail.load_then_kg,
    }
    found = [f"Lifted at {detail.set.rack}" + (f", {detail.staff} signed in" if detail.staff else "")]
    found += [f"Suggestion: {words}" for words in detail.decided]
    for one in detail.corrections:
        what = _what(one, names, was.get((one.target_id, one.field)), squad, unit)
        was[one.target_id, one.field] = one.to
        if what:
            why = f": {one.why}" if one.why else ""
            found.append(f"{when(one.at)}, {one.staff or 'nobody signed in'} – {what}{why}")
    return found


def _what(
    one: Corrected, names: Mapping[str, str], was: object, squad: Mapping[str, Athlete], unit: Unit
) -> str:
    if one.field == "athlete_id":
        return f"moved from {_called(was, squad)} to {_called(one.to, squad)}"
    if one.field == "lift":
        return f"lift {was} corrected to {one.to}"
    if one.field == "load_kg":
        return f"load {_load(was, unit)} corrected to {_load(one.to, unit)}"
    if one.field == MEASURED_AGAIN:
        engine = str(one.to).partition("+")[0]
        return f"measured again by engine {engine}" if one.to else "back to the measurement at the rack"
    if one.field == "struck":
        name = names.get(one.target_id, "comment")
        return f"{name} {'struck out' if one.to else 'restored'}"
    if one.field == "full_effort":
        return "full effort" if one.to else "not lifted with full effort"
    return f"bar corrected to {_load(one.to, unit)}" if one.field == "bar_kg" else ""


def _called(athlete_id: object, squad: Mapping[str, Athlete]) -> str:
    athlete = squad.get(str(athlete_id))
    return "nobody" if athlete is None else named(athlete)


def _load(load_kg: object, unit: Unit) -> str:
    return load_words(load_kg, unit) if isinstance(load_kg, int | float) else "unknown"


def when(at: datetime) -> str:
    """Local date and time."""
    return f"{at.astimezone():%Y-%m-%d %H:%M}"
