"""What the rack hears of its sensor, besides samples."""

from __future__ import annotations

from dataclasses import dataclass

from station.capture.rack_view import SensorLine, TroubleLine


@dataclass(frozen=True, slots=True)
class SensorFacts:
    """What the sensor's profile says of it: nominal rate and range of acceleration (None: not stated)."""

    nominal_rate_hz: float
    range_m_s2: float | None


@dataclass(frozen=True, slots=True)
class LinkNews:
    """The sensor line as it stands now, with a trouble line where there is one.

    Attributes:
        address: of the sensor, once it streams; the rack then claims it.
        note: what is worth knowing and no trouble, such as how the sensor was chosen; for a while.
        quality: what of the stream was lost or made no sense lately, where it is worth saying.
        book: why the sensor book could not be written lately; the stream goes on meanwhile.
        facts: what its profile says, once a sensor is found.
    """

    sensor: SensorLine
    trouble: TroubleLine | None = None
    address: str | None = None
    facts: SensorFacts | None = None
    quality: TroubleLine | None = None
    note: TroubleLine | None = None
    book: TroubleLine | None = None


WAITING = SensorLine("no sensor yet", "looking for this rack's sensor", streaming=False, battery_percent=None)
