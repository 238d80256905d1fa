"""How links do: what the racks have written, or sensors connected to now."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Callable
from contextlib import AsyncExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.live import Live
from rich.table import Table
from rich.text import Text

from drivers.link import SensorLink
from drivers.link_events import LinkEvent
from drivers.profile import SensorProfile
from drivers.radio import Radio
from drivers.samples import SampleBlock
from drivers.scan import SensorInRange
from station.capture.link_log import FILE_NAME, log_record
from station.commands.fail import fail
from station.commands.sensors_claim import the_named_one

REFRESH_S = 1.0  # racks write once a second
TAIL_BYTES = 100_000  # some minutes of one rack
COLUMNS = {
    "sensor": "sensor",
    "received_packets": "packets",
    "received_samples": "samples",
    "lost_samples": "lost",
    "duplicate_packets": "double",
    "reordered_packets": "late",
    "malformed_packets": "malformed",
    "packet_rate_hz": "packets/s",
    "jitter_s": "jitter s",
    "signal_dbm": "dBm, when",
    "battery_percent": "battery %",
    "reconnects": "reconnects",
    "streaming_since": "since (UTC)",
}


def racks_logs(root: Path, seconds: float | None, *, as_json: bool) -> None:
    """Show what the racks under a folder have written about their links.

    Args:
        root: the folder.
        seconds: how long to look; None: until Ctrl-C on a terminal, once elsewhere.
        as_json: all lines as they are, once; else the newest report of each rack as a table that refreshes.
    """
    if not any(root.glob(f"*/{FILE_NAME}")):
        fail(f"no rack under {root} has written about its link yet; name a sensor to connect to it", status=1)
    if as_json:
        for line in _racks_lines(root):
            print(json.dumps(line, ensure_ascii=False))
        return
    console = Console(emoji=False)
    until_s = time.monotonic() + (seconds or (float("inf") if console.is_terminal else 0.0))
    with Live(_newest(root), console=console, auto_refresh=False) as live:
        while time.monotonic() < until_s:
            time.sleep(REFRESH_S)
            live.update(_newest(root), refresh=console.is_terminal)


def _newest(root: Path) -> Table:
    reports = [line for line in _racks_lines(root, TAIL_BYTES) if line.get("event") == "report"]
    return link_table(list({line["rack"]: line for line in reports if "rack" in line}.values()))


def _racks_lines(root: Path, tail_bytes: int | None = None) -> list[dict[str, Any]]:
    return [line for file in sorted(root.glob(f"*/{FILE_NAME}")) for line in _lines(file, tail_bytes)]


def _lines(file: Path, tail_bytes: int | None) -> list[dict[str, Any]]:
    """The records of a log, or of its end; a line that a power cut left half is passed over."""
    found = []
    with file.open("rb") as opened:
        if tail_bytes is not None:
            opened.seek(max(0, file.stat().st_size - tail_bytes))
        written = opened.read().decode("utf-8", errors="replace")
    for text in written.splitlines():
        try:
            record = json.loads(text)
        except ValueError:
            continue
        if isinstance(record, dict):
            found.append(record)
    return found


async def log_live(
    transport: str | None,
    profiles: tuple[SensorProfile, ...],
    named: list[str],
    seconds: float | None,
    *,
    as_json: bool,
) -> None:
    """Connect to sensors and report once a second until the time is over."""
    newest: dict[str, dict[str, Any]] = {}
    console = Console(emoji=False)
    async with Radio(transport) as radio, AsyncExitStack() as stack:
        live = stack.enter_context(Live(console=console, auto_refresh=False)) if not as_json else None

        def show(record: dict[str, Any]) -> None:
            if live is None:
                print(json.dumps(record, ensure_ascii=False), flush=True)
            elif record["event"] == "report":
                newest[record["address"]] = record
                live.update(link_table(list(newest.values())), refresh=console.is_terminal)

        for one in named:
            sensor = await the_named_one(radio, profiles, one)
            await stack.enter_async_context(_link(radio, sensor, show))
        try:
            async with asyncio.timeout(seconds):
                await asyncio.get_running_loop().create_future()
        except TimeoutError:
            return


def _link(radio: Radio, sensor: SensorInRange, show: Callable[[dict[str, Any]], None]) -> SensorLink:
    assert sensor.profile is not None, "only sensors with a profile are chosen"

    def on_event(event: LinkEvent) -> None:
        record = log_record(event, sensor.name, sensor.address, datetime.now(UTC))
        if record is not None:
            show(record)

    def on_samples(_block: SampleBlock) -> None:
        """Only how they come matters here."""

    name = sensor.name or sensor.address
    return SensorLink(radio, sensor.address, sensor.profile, on_samples, on_event, name=name)


def link_table(records: list[dict[str, Any]]) -> Table:
    """The newest reports as a table; every text is plain, never read as markup."""
    table = Table()
    for heading in ("rack", *COLUMNS.values()):
        table.add_column(heading)
    for record in records:
        cells = [record.get("rack", "–"), *(_cell(record, key) for key in COLUMNS)]
        table.add_row(*(Text("–" if cell is None else str(cell)) for cell in cells))
    return table


def _cell(record: dict[str, Any], key: str) -> Any:
    """A connected sensor does not advertise: its signal is as old as its last advertisement."""
    value, age_s = record.get(key), record.get("signal_age_s")
    return f"{value}, {age_s:.0f} s ago" if key == "signal_dbm" and age_s is not None else value
