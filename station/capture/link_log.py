"""The truth about a link as lines of JSON: what was received, lost and made no sense, about once a second.

A rack keeps these lines in its folder, the newest of them only, so that what happened can be looked up afterwards.
"""

from __future__ import annotations

import json
import logging
from datetime import datetime, timedelta
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Any

from drivers.link_events import LinkEvent, LinkReport, StateChanged

FILE_NAME = "link.jsonl"
FILE_BYTES = 5_000_000  # some hours of one sensor
OLDER_FILES = 3


def log_record(event: LinkEvent, name: str, address: str, at: datetime) -> dict[str, Any] | None:
    """A report or a change of state as a flat record whose keys carry units; None for what is not logged.

    Args:
        event: from the link.
        name, address: of the sensor.
        at: the UTC instant of the event.
    """
    head: dict[str, Any] = {"at": at.isoformat(timespec="milliseconds"), "sensor": name, "address": address}
    if isinstance(event, StateChanged):
        return head | {"event": "state", "state": event.state.value, "words": event.words}
    if not isinstance(event, LinkReport):
        return None
    counts = event.statistics
    return head | {
        "event": "report",
        "received_packets": counts.packets,
        "received_samples": counts.samples,
        "lost_samples": counts.lost_samples,
        "losses_inferred": counts.inferred,
        "duplicate_packets": counts.duplicates,
        "reordered_packets": counts.reordered,
        "malformed_packets": counts.malformed,
        "counter_restarts": counts.restarts,
        "packet_rate_hz": round(event.packet_rate_hz, 3),
        "jitter_s": None if event.jitter_s is None else round(event.jitter_s, 6),
        "signal_dbm": event.signal_dbm,
        "signal_age_s": None if event.signal_age_s is None else round(event.signal_age_s, 1),
        "battery_percent": event.battery_percent,
        "reconnects": event.reconnects,
        "streaming_since": _since(event, at),
    }


def _since(event: LinkReport, at: datetime) -> str | None:
    if event.streaming_since_s is None:
        return None
    since = at - timedelta(seconds=event.time_s - event.streaming_since_s)
    return since.isoformat(timespec="milliseconds")


class LinkLog:
    """Appends records to a file that never grows beyond a few megabytes."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._file = RotatingFileHandler(
            folder / FILE_NAME, maxBytes=FILE_BYTES, backupCount=OLDER_FILES, encoding="utf-8", delay=True
        )

    def write(self, record: dict[str, Any]) -> None:
        """Append one record."""
        line = json.dumps(record, ensure_ascii=False)
        self._file.emit(logging.LogRecord("link", logging.INFO, "", 0, line, None, None))

    def close(self) -> None:
        """Close the file."""
        self._file.close()
