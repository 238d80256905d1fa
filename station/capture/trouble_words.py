"""What the engine calls a trouble, in the words of the strip."""

from __future__ import annotations

from station.capture.rack_view import TroubleLine
from station.motion.events import Trouble

_WORDS = {
    "sensor_fell": "The sensor fell off the bar",
    "sensor_slipped": "The sensor has slipped on the bar",
    "bad_samples": "The samples of the sensor are not all good",
    "rate_jump": "The sensor's clock has jumped",
    "silence": "The sensor is silent: asleep, empty or out of reach",
}


def trouble_line(trouble: Trouble) -> TroubleLine:
    """One line with what to do."""
    words = _WORDS.get(trouble.kind, trouble.kind.replace("_", " ").capitalize())
    return TroubleLine(trouble.kind, words, trouble.advice, trouble.kind == "sensor_fell")
