"""What a sensor's link reports, as values in plain words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from drivers.statistics import LinkStatistics


class LinkState(Enum):
    """Where the link to a sensor stands."""

    IDLE = "not started"
    SCANNING = "looking for the sensor"
    CONNECTING = "connecting"
    NEGOTIATING = "asking the sensor what it offers"
    SUBSCRIBING = "starting the stream"
    STREAMING = "receiving"
    STALLED = "connected, but nothing arrives"
    LOST = "connection lost"
    WAITING = "waiting to try again"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class StateChanged:
    """The link went from one state to another.

    Attributes:
        words: what happened, for people.
        time_s: when, monotonic, s.
        attempt: attempts since the stream last stood.
    """

    state: LinkState
    before: LinkState
    words: str
    time_s: float
    attempt: int = 0


@dataclass(frozen=True, slots=True)
class BatteryRead:
    """The sensor's battery level; `words` says so, and what to do when it is low."""

    percent: int
    low: bool
    words: str
    time_s: float


@dataclass(frozen=True, slots=True)
class SensorIdentified:
    """What the sensor says of itself; untrusted text, made safe to show.

    Attributes:
        serial: serial number; empty when it says none. It stays the same where an address rotates.
    """

    serial: str
    model: str
    firmware: str
    time_s: float


@dataclass(frozen=True, slots=True)
class AddressLearned:
    """A bond has told the lasting address of a sensor whose address rotates; it is found by that from now on."""

    address: str
    before: str
    time_s: float


@dataclass(frozen=True, slots=True)
class LinkReport:
    """How the link does, about once a second while it stands.

    Attributes:
        statistics: counts since the link was started.
        packet_rate_hz: packets a second since the last report.
        jitter_s: standard deviation of the time between packets since the last report, s; None with fewer than three.
        signal_dbm: strength when the sensor was last heard advertising, dBm, or None; during a connection it sends
            no advertisements, and Bluetooth as the systems offer it does not tell a connection's strength.
        signal_age_s: how long ago that was, s, or None.
        battery_percent: last known, or None.
        reconnects: how often the stream was taken up again.
        streaming_since_s: when the present stream began, monotonic, s; None when there is none.
    """

    statistics: LinkStatistics
    packet_rate_hz: float
    jitter_s: float | None
    signal_dbm: int | None
    signal_age_s: float | None
    battery_percent: int | None
    reconnects: int
    streaming_since_s: float | None
    time_s: float

    def as_json(self) -> dict[str, object]:
        """The same as one flat object for a log, one line a report."""
        counts = {name: getattr(self.statistics, name) for name in LinkStatistics.__slots__}
        own = {name: getattr(self, name) for name in LinkReport.__slots__ if name != "statistics"}
        return counts | own


LinkEvent = StateChanged | BatteryRead | SensorIdentified | AddressLearned | LinkReport
