"""What people are told while a rack's sensor is looked for, and of its book: what is so, and what to do."""

from __future__ import annotations

import re

from bleak.exc import BleakError

from drivers.radio import RadioError
from drivers.scan import SensorInRange
from station.capture.rack_view import TroubleLine
from station.store.errors import StoreError


def name_of(sensor: SensorInRange) -> str:
    """What to call a sensor."""
    return sensor.name or sensor.address


def note(words: str, advice: str) -> TroubleLine:
    """What is worth knowing and no trouble."""
    return TroubleLine("note", words, advice)


def not_there(what: str) -> TroubleLine:
    """A sensor that was looked for was not heard."""
    advice = "Switch the sensor on or move it awake, and bring it near; charge it if it stays dark."
    return TroubleLine("link", what, advice, True)


def no_radio(error: BleakError | RadioError | OSError | EOFError) -> TroubleLine:
    """The system's reason where it is one for people; a bare error number is not."""
    if isinstance(error, OSError | EOFError):
        reason = "the system's Bluetooth service does not answer"
    else:
        reason = str(error.args[0] if error.args else error).partition("\n")[0]
    return TroubleLine(
        "link", f"Bluetooth cannot be used: {reason}", "Switch Bluetooth on, or plug an adapter in.", True
    )


def no_book(error: StoreError | OSError, kind: str = "book", *, serious: bool = False) -> TroubleLine:
    """The sensor book cannot be written: an error of the store says what happened, then what to do.

    A rack's line has no room for a path beside what to do.
    """
    words, _, advice = str(error).partition("; ")
    words = re.sub(r"\S*[/\\](\S+)", r"\1", words)
    return TroubleLine(
        kind, _sentence(words), _sentence(advice or "free disk space or check the disk"), serious
    )


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."
