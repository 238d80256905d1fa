"""What stands on the pages of the coach's drawer, made from a `RackView`."""

from __future__ import annotations

import math

from station.capture.rack_view import Band, RackView
from station.screens.drawer import Choice
from station.screens.wording import KG_PER_LB, load_words, velocity_words

STOPS = (10, 15, 20, 25, 30, 35, 40)
EARLIER_SETS = 6


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
    """Loads with a reason first, then steps; lift and bar before them, stop and target after."""
    loads = named_loads(view)
    steps = {stepped_load_kg(view, view.load_kg, n): "" for n in (-8, -4, 4, 8)}
    choices = [
        Choice(f"load:{load!r}", load_words(load, view.unit), sub, current=load == view.load_kg)
        for some in (loads, {kg: sub for kg, sub in steps.items() if kg not in loads})
        for load, sub in sorted(some.items())
    ]
    bars = [Choice("page:bars", "Which bar", bar_words(view))] if len(view.bars) > 1 else []
    return [Choice("page:lift", "Lift", view.lift), *bars, *choices, *_goals(view)]


def named_loads(view: RackView) -> dict[float, str]:
    """Loads that somebody may want on the bar now, each with the reason, kg."""
    made = view.suggestion
    planned = view.planned_kg if view.planned_kg is not None else made.planned_kg if made else None
    reasons = (
        (view.warmup_load_kg, "warm-up"),
        (planned, "planned"),
        (made.load_kg if made else None, "suggested"),
        (view.last_used_kg, "last used"),
    )
    loads: dict[float, str] = {}
    for load, reason in reasons:
        if load is not None:
            loads[load] = f"{loads[load]}, {reason}" if load in loads else reason
    return loads


def _goals(view: RackView) -> list[Choice]:
    """Stop and target, where there is a plan they belong to."""
    if view.warmup_load_kg is None:
        return []
    return [
        Choice("page:stop", "Stop", stop_choice(view.stop_loss)),
        Choice("page:target", "Target", band_words(view.target_band_m_s)),
    ]


def stop_choice(share: float | None) -> str:
    """A stop in words."""
    return "no stop" if share is None else f"{round(100 * share)} % loss"


def band_words(band: Band | None) -> str:
    """A target band in words, m/s."""
    return "none" if band is None else f"{velocity_words(band[0])} to {velocity_words(band[1])}"


def stop_page(view: RackView) -> list[Choice]:
    """At which loss of velocity a work set stops; 10 to 40 %."""
    none = Choice("stop:", "No stop", current=view.stop_loss is None)
    shares = (percent / 100 for percent in STOPS)
    return [none, *(Choice(f"stop:{s!r}", stop_choice(s), current=s == view.stop_loss) for s in shares)]


def target_page(view: RackView) -> list[Choice]:
    """Target bands a tenth wide, those around the last one first."""
    now = view.target_band_m_s
    bands = [(round(low / 20, 2), round(low / 20 + 0.1, 2)) for low in range(3, 27)]
    middle = sum(now) / 2 if now else view.usual.expected_m_s if view.usual else 0.5
    bands.sort(key=lambda band: abs(sum(band) / 2 - middle))
    none = Choice("target:", "No target", current=now is None)
    return [
        none,
        *(Choice(f"target:{b[0]!r}|{b[1]!r}", band_words(b), "m/s", current=b == now) for b in bands),
    ]


def bar_words(view: RackView) -> str:
    """The bar in use: its label and what it weighs."""
    for label, weighed in view.bars:
        if weighed == view.bar_kg:
            return f"{label}, {load_words(weighed, view.unit)}"
    return load_words(view.bar_kg, view.unit) if view.bar_kg is not None else ""


def bars_page(view: RackView) -> list[Choice]:
    """The bars of this rack, as weighed."""
    return [
        Choice(f"bar:{kg!r}", label, load_words(kg, view.unit), current=kg == view.bar_kg)
        for label, kg in view.bars
    ]


def lift_page(view: RackView) -> list[Choice]:
    """The lifts of this rack."""
    return [Choice(f"lift:{name}", name, current=name == view.lift) for name in view.lifts]


def decide_page(view: RackView) -> list[Choice]:
    """The coach's answer to the suggestion, as choices."""
    made = view.suggestion
    if made is None or made.load_kg is None:
        return []
    plan = load_words(made.planned_kg, view.unit) if made.planned_kg is not None else ""
    return [
        Choice("use", "Use", load_words(made.load_kg, view.unit)),
        Choice("keep", "Keep plan", plan),
        Choice("page:change", "Change", "other load"),
    ]


def change_page(view: RackView) -> list[Choice]:
    """Loads around the suggestion, for a coach who wants another one."""
    made = view.suggestion
    if made is None or made.load_kg is None:
        return []
    loads = sorted({stepped_load_kg(view, made.load_kg, steps) for steps in (-6, -4, -2, -1, 1, 2, 4, 6)})
    return [Choice(f"change:{load!r}", load_words(load, view.unit)) for load in loads]


def shirt_words(number: int | None) -> str:
    """A shirt number, if there is one."""
    return "" if number is None else f"shirt {number}"


def more_page(view: RackView) -> list[Choice]:
    """Everything that is needed once in a session."""
    pin = [Choice("pin", "PIN", "choose or change")] if view.staff else []
    between = view.set is None or not view.set.is_open
    check_in = [Choice("check-in", "Check-in", "five answers")] if between else []
    return [
        Choice("keypad", "Shirt number", "anybody"),
        Choice("page:staff", "Sign in", view.staff or "nobody yet"),
        Choice("athlete page", "Athlete", "season, limits"),
        Choice("page:several", "Several sets", "correct at once"),
        Choice("guest", "Guest", "name it later"),
        Choice("nobody", "No name", "name it later"),
        Choice("page:screen", "Screen", "size, unit, sound"),
        Choice("page:limits", "Limits", "of a suggestion"),
        Choice("sensor", "Sensor", "lift the bar"),
        Choice("cautions", "Cautions", "show again"),
        *check_in,
        *pin,
    ]


def who_page(view: RackView) -> list[Choice]:
    """The group in lifting order, to hand the bar over."""
    current = view.athlete.athlete_id if view.athlete else ""
    group = [
        Choice(f"athlete:{a.athlete_id}", a.name, a.to_do, current=a.athlete_id == current)
        for a in view.group
    ]
    return [*group, Choice("anybody:", "Somebody else", "all names")]


def badge_page(view: RackView, code: str) -> list[Choice]:
    """Whose badge an unknown one is: the group first."""
    known = {a.athlete_id: a for a in (*view.group, *view.squad)}
    return [
        Choice(f"badge:{code}|{a.athlete_id}", a.name, shirt_words(a.shirt_number)) for a in known.values()
    ]


def staff_page(view: RackView) -> list[Choice]:
    """The staff who may sign in here."""
    return [Choice(f"staff:{name}", name, current=name == view.staff) for name in view.staff_names]
