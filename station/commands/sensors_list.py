"""The list of sensors: those in range, and those that belong to a rack, refreshed while people look."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from rich.console import Console
from rich.live import Live
from rich.table import Table
from rich.text import Text

from drivers.profile import SensorProfile
from drivers.radio import Radio
from drivers.scan import SensorInRange, scan
from station.store.known_sensor import KnownSensor
from station.store.sensor_book import SensorBook

SLICE_S = 1.0  # then the adapter is left to others for a moment
BETWEEN_S = 0.2
REMEMBERED_S = 10.0
NOW_S = 2.0
ONCE_S = 5.0


@dataclass(frozen=True, slots=True)
class SensorRow:
    """One sensor as it is listed; text from the air made safe to show."""

    name: str
    address: str
    profile: str
    signal: str
    battery: str
    rack: str


async def show_sensors(
    transport: str | None,
    book: SensorBook,
    profiles: tuple[SensorProfile, ...],
    seconds: float | None,
    *,
    everything: bool,
) -> None:
    """Scan and list until the time is over; on a terminal the list refreshes, elsewhere it is printed once."""
    console = Console(emoji=False)
    until_s = time.monotonic() + (seconds or (float("inf") if console.is_terminal else ONCE_S))
    heard: dict[str, tuple[SensorInRange, float]] = {}
    table = Table()
    async with Radio(transport) as radio:
        with Live(console=console, auto_refresh=False, transient=not console.is_terminal) as live:
            while time.monotonic() < until_s:
                now_s = time.monotonic()
                for sensor in await scan(radio, SLICE_S, profiles, foreign=everything):
                    heard[sensor.address] = (sensor, now_s)
                recent = {one: now_s - at_s for one, at_s in heard.values() if now_s - at_s < REMEMBERED_S}
                table = sensor_table(sensor_rows(recent, book.sensors(), datetime.now(UTC)))
                if console.is_terminal:
                    live.update(table, refresh=True)
                await asyncio.sleep(BETWEEN_S)
    if not console.is_terminal:
        console.print(table)


def sensor_rows(
    heard: Mapping[SensorInRange, float], known: Sequence[KnownSensor], now: datetime
) -> list[SensorRow]:
    """Those in range, the strongest first, then those that belong to a rack and were not heard.

    Args:
        heard: sensors, and how long ago each was heard last, s.
        known: what the book says.
        now: the UTC instant.
    """
    by_address = {one.address: one for one in known}
    rows = []
    for one in sorted(heard, key=lambda sensor: -sensor.signal_dbm):
        entry = by_address.get(one.address)
        rows.append(
            SensorRow(
                one.name or "no name",
                one.address,
                one.profile.name if one.profile else "none known",
                _signal_words(one.signal_dbm, heard[one]),
                battery_words(one.battery_percent, entry, now),
                entry.rack if entry and entry.rack else "free",
            )
        )
    silent = [one for one in known if one.rack and one.address not in {sensor.address for sensor in heard}]
    rows += [
        SensorRow(
            one.name or "no name",
            one.address,
            "",
            "in use, or off",
            battery_words(None, one, now),
            one.rack or "",
        )
        for one in silent
    ]
    return rows


def _signal_words(signal_dbm: int, age_s: float) -> str:
    ago = f", {age_s:.0f} s ago" if age_s > NOW_S else ""
    return f"{signal_dbm} dBm{ago}"


def battery_words(advertised: int | None, known: KnownSensor | None, now: datetime) -> str:
    """The level that is advertised, else the last one read with its age."""
    if advertised is not None:
        return f"{advertised} %"
    if known is None or known.battery_percent is None or known.battery_at is None:
        return "unknown"
    return f"{known.battery_percent} %, {_ago((now - known.battery_at).total_seconds())}"


def _ago(age_s: float) -> str:
    for unit_s, unit in ((86_400.0, "days"), (3600.0, "h"), (60.0, "min")):
        if age_s >= 2 * unit_s or (age_s >= unit_s and unit != "days"):
            return f"{age_s / unit_s:.0f} {unit} ago"
    return "just now"


def sensor_table(rows: Sequence[SensorRow]) -> Table:
    """The rows as a table; every text is plain, never read as markup."""
    table = Table(title=None if rows else "no sensor in range; switch one on and bring it near")
    for heading in ("name", "address", "profile", "signal", "battery", "rack"):
        table.add_column(heading)
    for row in rows:
        cells = (row.name, row.address, row.profile, row.signal, row.battery, row.rack)
        table.add_row(*(Text(cell) for cell in cells))
    return table
