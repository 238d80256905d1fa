"""What is known of one sensor, and the row in which the sensor book keeps it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

_TIMES = ("battery_at", "calibrated_at")


@dataclass(frozen=True, slots=True)
class KnownSensor:
    """What is known of one sensor.

    Attributes:
        address: where it was heard last.
        name: what it calls itself; untrusted text, made safe to show.
        serial: what tells it from others where addresses rotate; empty when it says none.
        rack: whose it is, or None.
        battery_percent, battery_at: last known level, and when it was read.
        calibration, calibrated_at: what takes the accelerometer's errors out, as plain numbers, and when it was made.
        serial_is_shared: another sensor has the same serial number, as cheap boards of one batch do; only its address
            tells it from that one.
    """

    address: str
    name: str = ""
    serial: str = ""
    rack: str | None = None
    battery_percent: int | None = None
    battery_at: datetime | None = None
    calibration: dict[str, Any] | None = None
    calibrated_at: datetime | None = None
    serial_is_shared: bool = False


def as_row(sensor: KnownSensor) -> dict[str, Any]:
    """What is known, as the book keeps it: plain values, instants in ISO 8601."""
    times = {name: getattr(sensor, name) for name in _TIMES}
    return asdict(sensor) | {name: at.isoformat() if at is not None else None for name, at in times.items()}


def from_row(row: dict[str, Any]) -> KnownSensor:
    """What the book keeps of a sensor; what it does not say, as in a book of before, is unknown.

    Raises:
        TypeError, ValueError, AttributeError: the row is none.
    """
    known = {name: row[name] for name in KnownSensor.__slots__ if name in row}
    times = {name: datetime.fromisoformat(at) if (at := row.get(name)) else None for name in _TIMES}
    return KnownSensor(**(known | times))
