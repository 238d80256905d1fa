"""What a link tells about itself once a second, and about its sensor's battery."""

from __future__ import annotations

import time

from drivers.link_events import BatteryRead, LinkReport
from drivers.packet_watch import PacketWatch
from drivers.statistics import LinkStatistics

REPORT_EVERY_S = 1.0
BATTERY_EVERY_S = 300.0
LOW_BATTERY_PERCENT = 20


class LinkReporter:
    """Keeps what reports are made of.

    Args:
        name: what to call the sensor in words.

    Attributes:
        watch: when packets came.
        streams: how often the stream was taken up.
        streaming_since_s: when the present stream began, monotonic, s; None when there is none.
    """

    def __init__(self, name: str) -> None:
        self._name = name
        self.watch = PacketWatch()
        self.streams = 0
        self.streaming_since_s: float | None = None
        self._signal: tuple[int, float] | None = None  # dBm, and when it was heard
        self._battery_percent: int | None = None
        self._next_report_s = self._next_battery_s = 0.0

    def heard(self, signal_dbm: int) -> None:
        """The sensor was heard advertising. During a connection it is not, and its signal cannot be read."""
        self._signal = signal_dbm, time.monotonic()

    def stream_asked_for(self, now_s: float) -> None:
        """A stream is about to begin."""
        self.watch.restart(now_s)
        self._next_report_s, self._next_battery_s = now_s + REPORT_EVERY_S, now_s + BATTERY_EVERY_S

    def battery(self, percent: int) -> BatteryRead:
        """A battery level that was read."""
        self._battery_percent = percent
        low = percent <= LOW_BATTERY_PERCENT
        advice = " Charge it before the session." if low else ""
        return BatteryRead(percent, low, f"{self._name}: battery {percent} %.{advice}", time.monotonic())

    def battery_due(self, now_s: float) -> bool:
        """Whether it is time to read the battery level again."""
        due = now_s >= self._next_battery_s
        if due:
            self._next_battery_s = now_s + BATTERY_EVERY_S
        return due

    def report(self, statistics: LinkStatistics, now_s: float) -> LinkReport | None:
        """A report, when it is time for one."""
        if now_s < self._next_report_s:
            return None
        self._next_report_s = now_s + REPORT_EVERY_S
        packet_rate_hz, jitter_s = self.watch.summary(now_s)
        signal_dbm, heard_s = self._signal or (None, None)
        return LinkReport(
            statistics,
            packet_rate_hz,
            jitter_s,
            signal_dbm,
            None if heard_s is None else now_s - heard_s,
            self._battery_percent,
            max(0, self.streams - 1),
            self.streaming_since_s,
            now_s,
        )
