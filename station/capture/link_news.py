"""What the rack hears of its sensor, besides samples."""

from __future__ import annotations

from dataclasses import dataclass

from station.capture.rack_view import SensorLine, TroubleLine


@dataclass(frozen=True, slots=True)
class LinkNews:
    """The sensor line as it stands now, with a trouble line where there is one.

    Attributes:
        address: of the sensor, once connected; the rack then claims it.
    """

    sensor: SensorLine
    trouble: TroubleLine | None = None
    address: str | None = None


WAITING = SensorLine("no sensor yet", "looking for this rack's sensor", streaming=False, battery_percent=None)
