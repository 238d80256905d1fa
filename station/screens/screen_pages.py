"""The drawer's pages on which a screen is set, made from a `RackView`."""

from __future__ import annotations

from station.capture.rack_view import RackView
from station.screens.drawer import Choice

SCALES = (100, 125, 150, 175, 200)


def limits_page(view: RackView) -> list[Choice]:
    """How far a suggestion may go from the plan; never past the ceiling in any case."""
    now = view.settings
    return [
        *(
            Choice(f"down:{share!r}", f"{100 * share:g} % down", "at most", current=share == now.most_down)
            for share in (0.05, 0.10, 0.15, 0.20)
        ),
        *(
            Choice(f"up:{share!r}", f"{100 * share:g} % up", "at most", current=share == now.most_up)
            for share in (0.0, 0.025, 0.05)
        ),
    ]


def screen_page(view: RackView, theme: str) -> list[Choice]:
    """How this screen is set."""
    now = view.settings
    return [
        Choice("theme", "Light" if theme == "dark" else "Dark", "colours"),
        Choice("page:scale", "Size", f"{now.scale_percent} %"),
        Choice(
            f"unit:{'lb' if now.unit == 'kg' else 'kg'}",
            "Pounds" if now.unit == "kg" else "Kilograms",
            "loads",
        ),
        Choice("page:figure", "Big number", view.figure),
        Choice(
            f"sound:{'off' if now.sound else 'on'}", "Sound off" if now.sound else "Sound on", "two tones"
        ),
        Choice("full screen", "Full screen", "on or off"),
    ]


def scale_page(view: RackView) -> list[Choice]:
    """Sizes of text, 100 to 200 %."""
    return [
        Choice(f"scale:{percent}", f"{percent} %", current=percent == view.settings.scale_percent)
        for percent in SCALES
    ]


def figure_page(view: RackView) -> list[Choice]:
    """What the big number shows for this lift."""
    names = {"mean": "whole way up", "propulsive": "while pushed", "peak": "fastest instant"}
    return [
        Choice(f"figure:{name}", name.capitalize(), words, current=name == view.figure)
        for name, words in names.items()
    ]
