"""`remeasure`: a stored season through today's engine, old beside new."""

from __future__ import annotations

import json
import sys
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

from rich.console import Console
from rich.progress import Progress

from station.capture.remeasure import MeasuredAgain, measure_all_again
from station.commands.fail import fail
from station.commands.folders import data_folder
from station.store.database import FILE_NAME
from station.store.kept_raw import kept_sets
from station.store.record import Record


def run_remeasure(
    data: Path | None, rack: str, first: date | None, last: date | None, *, as_json: bool
) -> None:
    """Print a line a set; a progress bar on stderr."""
    folder = data_folder(data, rack)
    if not (folder / FILE_NAME).exists():
        fail(f"there is no record of {rack} in {folder.parent}; name its folder with --data")
    with closing(Record(folder, rack, lambda: datetime.now(UTC))) as record:
        kept = kept_sets(record.database.engine, first, last)
    changed = damaged = 0
    console = Console(stderr=True)
    with Progress(console=console, disable=not sys.stderr.isatty(), transient=True) as progress:
        task = progress.add_task("sets", total=len(kept))
        for one in measure_all_again(folder, kept):
            print(json.dumps(as_record(one)) if as_json else as_line(one), flush=True)
            damaged += bool(one.trouble)
            changed += one.velocities_m_s != one.kept.velocities_m_s and not one.trouble
            progress.advance(task)
    console.print(
        f"{len(kept)} sets measured again, {changed} with other figures, {damaged} could not be read; "
        "the record is as it was.",
        highlight=False,
        soft_wrap=True,
    )


def as_record(one: MeasuredAgain) -> dict[str, object]:
    """The set as one JSON object."""
    return {
        "set_id": one.kept.set_id,
        "day": one.kept.day.isoformat(),
        "lift": one.kept.lift,
        "load_kg": one.kept.load_kg,
        "engine_then": one.kept.engine_version,
        "then_m_s": one.kept.velocities_m_s,
        "now_m_s": one.velocities_m_s,
        "trouble": one.trouble or None,
    }


def as_line(one: MeasuredAgain) -> str:
    """The set in one line for people."""
    head = f"{one.kept.day}  {one.kept.lift}  {one.kept.load_kg:g} kg"
    if one.trouble:
        return f"{head}  {one.trouble}"
    return f"{head}  then {_speeds(one.kept.velocities_m_s)}  now {_speeds(one.velocities_m_s)}"


def _speeds(velocities_m_s: tuple[float | None, ...]) -> str:
    return " ".join("–" if v is None else f"{v:.2f}" for v in velocities_m_s) or "none"
