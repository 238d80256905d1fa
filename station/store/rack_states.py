"""How racks stand now, told to the room: through the shared database, or on one machine by a small file each.

A rack's newest report takes the place of its last one. When it was heard is said by the clock of whoever keeps it
(the server, or the machine's own file system), since racks' clocks differ.
"""

from __future__ import annotations

import contextlib
import json
import logging
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, bindparam, text

from station.squad.room import RackReport, report_from
from station.store.share_tables import rack_states

log = logging.getLogger(__name__)

FILE_NAME = "rack-state.json"
_TELL = text(
    "INSERT INTO rack_states (rack, heard_at, athlete_id, report) "
    "VALUES (:rack, clock_timestamp(), :athlete_id, :report) "
    "ON CONFLICT (rack) DO UPDATE SET heard_at = EXCLUDED.heard_at, athlete_id = EXCLUDED.athlete_id, "
    "report = EXCLUDED.report"
).bindparams(bindparam("report", type_=rack_states.c.report.type))
_HEAR = text(
    "SELECT report, heard_at, extract(epoch FROM clock_timestamp() - heard_at) AS age_s FROM rack_states"
).columns(report=rack_states.c.report.type)


@dataclass(frozen=True, slots=True)
class Heard:
    """A rack's newest report, when it came and how long ago that is, s."""

    report: RackReport
    at: datetime
    age_s: float


def tell_server(engine: Engine, report: RackReport) -> None:
    """Put this rack's report in the place of its last one; of an erased athlete the server takes none.

    Raises:
        sqlalchemy.exc.DBAPIError: it was not told.
    """
    row = {"rack": report.rack, "athlete_id": report.athlete_id, "report": report.as_json()}
    with engine.begin() as connection:
        connection.execute(_TELL, row)


def hear_server(engine: Engine) -> list[Heard]:
    """What the racks told last, by rack.

    Raises:
        sqlalchemy.exc.DBAPIError: it cannot be asked.
    """
    with engine.begin() as connection:
        rows = connection.execute(_HEAR).all()
    found = [
        Heard(report, row.heard_at, float(row.age_s))
        for row in rows
        if (report := _report(row.report, "the shared database")) is not None
    ]
    return sorted(found, key=lambda one: one.report.rack)


def tell_machine(folder: Path, report: RackReport) -> None:
    """Put this rack's report into its own folder, where the desk of this machine looks; it need not survive a power
    cut, so nobody waits for the disk."""
    half = folder / f"{FILE_NAME}.new"
    try:
        half.write_text(json.dumps(report.as_json()), encoding="utf-8")
        half.replace(folder / FILE_NAME)
    except OSError as error:
        log.warning("the room could not be told how this rack stands: %s", error)
        with contextlib.suppress(OSError):
            half.unlink(missing_ok=True)


def hear_machine(root: Path, now: datetime) -> list[Heard]:
    """What the racks of one machine told last, by rack.

    Args:
        now: with zone.
    """
    found = []
    for file in sorted(root.glob(f"*/{FILE_NAME}")):
        try:
            told, changed_s = json.loads(file.read_text(encoding="utf-8")), file.stat().st_mtime
        except (OSError, ValueError):  # closed or written over just now
            continue
        report = _report(told, str(file))
        if report is not None:
            at = datetime.fromtimestamp(changed_s, now.tzinfo)
            found.append(Heard(report, at, max((now - at).total_seconds(), 0.0)))
    return found


def newest(heard: Iterable[Heard]) -> list[Heard]:
    """The newest report of each rack, by name; what one machine's file and the server both tell is told once."""
    found: dict[str, Heard] = {}
    for one in heard:
        before = found.get(one.report.rack)
        if before is None or one.age_s < before.age_s:
            found[one.report.rack] = one
    return sorted(found.values(), key=lambda one: _by_number(one.report.rack))


def _by_number(rack: str) -> tuple[str, int, str]:
    """ "rack 10" comes after "rack 9"."""
    digits = "".join(c for c in rack if c.isdigit())
    return rack.rstrip("0123456789"), int(digits or 0), rack


def _report(told: Any, where: str) -> RackReport | None:
    try:
        return report_from(told)
    except ValueError as error:
        log.warning("%s: %s", where, error)
        return None
