"""What stands on the pages of the coach's drawer, made from a `RackView`."""

from __future__ import annotations

import math

from station.capture.rack_view import RackView, RepStatus
from station.screens.drawer import Choice
from station.screens.wording import KG_PER_LB, load_words, velocity_words


def step_kg(view: RackView) -> float:
    """One step of the load, kg: 2.5 kg, or 5 lb."""
    return 2.5 if view.unit == "kg" else 5.0 * KG_PER_LB


def stepped_load_kg(view: RackView, load_kg: float, steps: int) -> float:
    """The load some steps on, on round steps of the screen's unit; never below zero."""
    step = step_kg(view)
    whole = round(load_kg / step, 6)
    on_grid = math.floor(whole) if steps > 0 else math.ceil(whole)
    return max(0.0, (on_grid + steps) * step)


def bar_page(view: RackView) -> list[Choice]:
    """Loads in reach first, then the lifts."""
    loads: dict[float, str] = {}
    if view.warmup_load_kg is not None:
        loads[view.warmup_load_kg] = "warm-up"
    if view.suggestion is not None:
        if view.suggestion.planned_kg is not None:
            loads[view.suggestion.planned_kg] = "planned"
        if view.suggestion.load_kg is not None:
            loads.setdefault(view.suggestion.load_kg, "suggested")
    for steps in (-8, -4, 4, 8):
        loads.setdefault(stepped_load_kg(view, view.load_kg, steps), "")
    choices = [
        Choice(f"load:{load!r}", load_words(load, view.unit), sub, current=load == view.load_kg)
        for load, sub in sorted(loads.items())
    ]
    return [Choice("page:lift", "Lift", view.lift), *choices]


def lift_page(view: RackView) -> list[Choice]:
    """The lifts of this rack."""
    return [Choice(f"lift:{name}", name, current=name == view.lift) for name in view.lifts]


def change_page(view: RackView) -> list[Choice]:
    """Loads around the suggestion, for a coach who wants another one."""
    made = view.suggestion
    if made is None or made.load_kg is None:
        return []
    loads = sorted({stepped_load_kg(view, made.load_kg, steps) for steps in (-6, -4, -2, -1, 1, 2, 4, 6)})
    return [Choice(f"change:{load!r}", load_words(load, view.unit)) for load in loads]


def set_page(view: RackView) -> list[Choice]:
    """Whose set it was, and each rep to strike out or put back, newest first."""
    if view.set is None:
        return []
    choices = [Choice("page:whose", "Whose set?", view.athlete.name if view.athlete else "no name")]
    for rep in reversed(view.set.reps):
        struck = rep.status is RepStatus.STRUCK
        speed = "" if rep.mean_velocity_m_s is None else velocity_words(rep.mean_velocity_m_s)
        words = f"Rep {rep.number} {speed}".strip()
        sub = "struck: put back" if struck else "strike out"
        choices.append(Choice(f"{'back' if struck else 'strike'}:{rep.rep_id}", words, sub, current=struck))
    return choices


def whose_page(view: RackView) -> list[Choice]:
    """The group, to move the set to the right name."""
    current = view.athlete.athlete_id if view.athlete else ""
    return [
        Choice(f"whose:{a.athlete_id}", a.name, shirt_words(a.shirt_number), current=a.athlete_id == current)
        for a in view.group
    ]


def shirt_words(number: int | None) -> str:
    """A shirt number, if there is one."""
    return "" if number is None else f"shirt {number}"


def more_page(view: RackView, theme: str) -> list[Choice]:
    """Everything that is needed once in a session."""
    return [
        Choice("keypad", "Shirt number", "anybody"),
        Choice("page:staff", "Sign in", view.staff or "nobody yet"),
        Choice("guest", "Guest", "the name is completed later"),
        Choice("nobody", "No name", "the next set is named later"),
        Choice("theme", "Light" if theme == "dark" else "Dark", "colours"),
        Choice("cautions", "Cautions", "show again"),
        Choice("sensor", "Sensor", "lift the bar"),
        Choice("full screen", "Full screen", "on or off"),
    ]


def staff_page(view: RackView) -> list[Choice]:
    """The staff who may sign in here."""
    return [Choice(f"staff:{name}", name, current=name == view.staff) for name in view.staff_names]
