"""The cautions that stand on the screen when a session starts. Local rules and licensed practice come first."""

from __future__ import annotations

from station.squad.lifts import Lift

AS_FAST_AS_YOU_CAN_CONTROL = "as fast as you can control"

_PINNED = "Spotters, or safety arms just below the lowest bar position."
_ALWAYS = (
    "Collars on both sides; the sensor takes no collar's place.",
    "Stop on pain, dizziness or loss of technique. Look at the screen after the rep, not under the bar.",
    "A suggestion never passes the coach's ceiling, and nobody has to lift it. No further rep is asked for.",
    "Figures support qualified staff; they are no diagnosis, forecast of injury or clearance. "
    "Local rules come first.",
)


def cautions_for(lift: Lift) -> tuple[str, ...]:
    """What to mind before this lift."""
    return (_PINNED, *_ALWAYS) if lift.can_pin else _ALWAYS
