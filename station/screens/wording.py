"""What the rack screen says, as plain strings: made from a `RackView`, without Qt."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta

from station.capture.rack_view import Figure, RackView, RepStatus, RepView, SetView
from station.readiness.plates import KG_PER_LB as KG_PER_LB
from station.readiness.plates import load_words as load_words
from station.readiness.results import Verdict, WarmupPoint

MINUS = "−"
NO_BREAK = "\u00a0"
FIGURE_NAMES: dict[str, str] = {
    "mean": "mean velocity",
    "propulsive": "mean propulsive velocity",
    "peak": "peak velocity",
}


def unbroken(sentence: str) -> str:
    """The same sentence, with no line's end between a number and its unit."""
    return re.sub(r"(\d) (kg|lb|m/s|%)", rf"\1{NO_BREAK}\2", sentence)


def velocity_words(velocity_m_s: float) -> str:
    """A velocity with two decimals and a real minus sign."""
    return f"{velocity_m_s:.2f}".replace("-", MINUS)


def figure_of(rep: RepView, figure: Figure) -> float | None:
    """The velocity the big number shows for this rep, m/s."""
    return {
        "mean": rep.mean_velocity_m_s,
        "propulsive": rep.mean_propulsive_velocity_m_s,
        "peak": rep.peak_velocity_m_s,
    }[figure]


def athlete_name(view: RackView) -> str:
    """Who is lifting; a question mark while the name is only proposed."""
    if view.athlete is None:
        return "No name: touch one" if view.set is not None else "No name yet"
    return view.athlete.name if view.name_confirmed else f"{view.athlete.name} ?"


def name_words(view: RackView) -> str:
    """Whether somebody has said that it is this athlete's set that is shown."""
    return "" if view.set_name_confirmed or view.athlete is None else "name not confirmed"


def plates_words(view: RackView) -> str:
    """Plates per side of the load on the bar."""
    return view.plates.in_words() if view.plates else "plates unknown"


def bar_words(view: RackView) -> str:
    """What changes on the bar for the next load, or what hangs on it."""
    return view.bar_change or plates_words(view)


def match_days(points: Sequence[WarmupPoint]) -> list[date]:
    """The matches that the sessions' labels speak of: "MD" is one, "MD+3" is three days after one."""
    found = set()
    for point in points:
        distance = point.match_day_label.removeprefix("MD").replace(MINUS, "-")
        if point.match_day_label.startswith("MD") and (not distance or distance.lstrip("+-").isdigit()):
            found.add(point.day - timedelta(days=int(distance or 0)))
    return sorted(found)


def ask_first(view: RackView) -> bool:
    """No load is planned or suggested for this athlete: a coach is asked first, whatever the reason."""
    return view.suggestion is not None and view.suggestion.load_kg is None and view.warmup_load_kg is None


def loaded_for_next(view: RackView) -> bool:
    """The set that is shown was lifted with another load than the one that is wanted on the bar now."""
    if view.set is None or view.set.load_kg is None:
        return False
    return abs(view.set.load_kg - view.load_kg) > 0.01


def set_words(view: RackView) -> str:
    """Which set this is and what is special about it; empty before one begins."""
    if view.set is None:
        return ""
    at = f" at {load_words(view.set.load_kg or 0.0, view.unit)}" if loaded_for_next(view) else ""
    words = f"{'warm-up set' if view.set.kind == 'warm-up' else 'work set'} {view.set.number}{at}"
    words += "" if view.set.is_open else ", over"
    words += ", not full effort" if view.set.not_full_effort else ""
    return words + (", different depth" if view.set.different_depth else "")


def loss_words(set_: SetView) -> tuple[str, str]:
    """Velocity loss: what it is, and the figure; empty before a second counted rep."""
    if set_.velocity_loss is None or len(set_.reps) < 2:
        return "", ""
    percent = round(100 * set_.velocity_loss)
    return ("fastest", "so far") if percent <= 0 else ("velocity loss", f"{percent} %")


def short_loss_words(set_: SetView) -> str:
    """The same in one short line."""
    label, figure = loss_words(set_)
    return f"{figure} slower" if label == "velocity loss" else " ".join((label, figure)).strip()


def stop_words(set_: SetView) -> str:
    """Where this set stops, if somebody chose a stop."""
    return "" if set_.stop_loss is None else f"stop {round(100 * set_.stop_loss)} %"


def no_number_words(rep: RepView) -> tuple[str, str]:
    """Why there is no number, or why it does not count: the word and its reason."""
    reasons = {
        RepStatus.NOT_MEASURED: "the sensor gave no usable samples",
        RepStatus.FAILED: "turned back early: not counted",
        RepStatus.STRUCK: "not counted",
        RepStatus.UNCERTAIN: "take it with care",
        RepStatus.MEASURED: "",
    }
    word = {RepStatus.FAILED: "failed rep", RepStatus.MEASURED: "not measured"}.get(
        rep.status, str(rep.status)
    )
    return word, rep.why or reasons[rep.status]


def today_words(view: RackView) -> tuple[str, str]:
    """Today against the usual range: what is said large, and the rest of the sentence."""
    load = load_words(view.warmup_load_kg, view.unit) if view.warmup_load_kg is not None else "this load"
    if view.assessed is None:
        return _before_words(view, load)
    difference = abs(view.assessed.mean_velocity_m_s - view.assessed.usual.expected_m_s)
    sessions = view.assessed.usual.sessions
    label = f", {view.today.match_day_label}" if view.today and view.today.match_day_label else ""
    match view.assessed.verdict:
        case Verdict.SLOWER | Verdict.FASTER:
            return f"{difference:.2f} {view.assessed.verdict}", f"than usual at {load}{label}"
        case Verdict.AS_USUAL:
            return "as usual", f"at {load}{label}"
        case _:
            return "too little history", f"{sessions} earlier {_plural(sessions, 'session')} at {load}"


def _before_words(view: RackView, load: str) -> tuple[str, str]:
    """Before the warm-up set is done."""
    if view.athlete is None:
        return "no history", "this set has no name yet"
    if view.warmup_load_kg is None and ask_first(view):
        return "ask a coach", "before you load"
    if view.today is not None and not view.today.counted:
        return "not judged", _why_not_judged(view)
    if not view.history:
        return "first time", f"no earlier session at {load}"
    return "warm-up", f"at {load}, {len(view.history)} earlier {_plural(len(view.history), 'session')}"


def _why_not_judged(view: RackView) -> str:
    """Why today's warm-up set is kept and shown, and says nothing."""
    if view.set is not None and view.set.kind == "warm-up":
        if view.set.not_full_effort:
            return "not full effort: out of the history"
        if view.set.different_depth:
            return "different depth: out of the history"
    return "today's warm-up set is out of the history"


def _plural(count: int, word: str) -> str:
    return word if count == 1 else f"{word}s"


def sensor_words(view: RackView) -> str:
    """The sensor line: link and battery."""
    sensor = view.sensor
    if sensor.battery_percent is not None:
        return f"{sensor.name}: {sensor.link}, {sensor.battery_percent} %"
    return f"{sensor.name}: {sensor.link}" + (", battery unknown" if sensor.streaming else "")


def quiet_facts(view: RackView) -> list[str]:
    """What the strip says while nothing is wrong, the most wanted first."""
    staff = view.staff or "nobody signed in"
    facts = (view.rack_name, view.lift, set_words(view), name_words(view), staff, sensor_words(view))
    return [part for part in facts if part]
