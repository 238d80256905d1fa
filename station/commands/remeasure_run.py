"""`remeasure`: stored sets and jumps of a season through today's engine, old beside new."""

from __future__ import annotations

import json
import sys
from contextlib import closing
from datetime import UTC, date, datetime
from itertools import chain
from pathlib import Path

from rich.console import Console
from rich.progress import Progress

from station.capture.remeasure import MeasuredAgain, measure_all_again
from station.capture.remeasure_jumps import JumpMeasuredAgain, measure_all_jumps_again
from station.commands.fail import fail
from station.commands.folders import data_folder
from station.store.database import FILE_NAME
from station.store.kept_raw import kept_jumps, kept_sets
from station.store.record import Record

# The clock of a jump's ten seconds is not the one of the whole morning: less than this is no other figure.
SAME_HEIGHT_M = 0.001


def run_remeasure(
    data: Path | None, rack: str, first: date | None, last: date | None, *, as_json: bool
) -> None:
    """Print a line a set and a line a jump; a progress bar on stderr."""
    folder = data_folder(data, rack)
    if not (folder / FILE_NAME).exists():
        fail(f"there is no record of {rack} in {folder.parent}; name its folder with --data")
    with closing(Record(folder, rack, lambda: datetime.now(UTC))) as record:
        kept = kept_sets(record.database.engine, first, last)
        jumps = kept_jumps(record.database.engine, first, last)
    changed = damaged = 0
    console = Console(emoji=False, stderr=True)
    again: chain[MeasuredAgain | JumpMeasuredAgain] = chain(
        measure_all_again(folder, kept), measure_all_jumps_again(folder, jumps)
    )
    with Progress(console=console, disable=not sys.stderr.isatty(), transient=True) as progress:
        task = progress.add_task("sets and jumps", total=len(kept) + len(jumps))
        for one in again:
            print(json.dumps(as_record(one)) if as_json else as_line(one), flush=True)
            damaged += bool(one.trouble)
            changed += _differs(one) and not one.trouble
            progress.advance(task)
    what = f"{len(kept)} sets and {len(jumps)} jumps" if jumps else f"{len(kept)} sets"
    console.print(
        f"{what} measured again, {changed} with other figures, {damaged} could not be read; "
        "the record is as it was.",
        highlight=False,
        soft_wrap=True,
    )


def _differs(one: MeasuredAgain | JumpMeasuredAgain) -> bool:
    if isinstance(one, JumpMeasuredAgain):
        return one.height_m is None or abs(one.height_m - one.kept.height_m) >= SAME_HEIGHT_M
    return one.velocities_m_s != one.kept.velocities_m_s


def as_record(one: MeasuredAgain | JumpMeasuredAgain) -> dict[str, object]:
    """The set or jump as one JSON object."""
    if isinstance(one, JumpMeasuredAgain):
        return {
            "jump_id": one.kept.jump_id,
            "day": one.kept.day.isoformat(),
            "engine_then": one.kept.engine_version,
            "then_m": one.kept.height_m,
            "now_m": one.height_m,
            "trouble": one.trouble or None,
        }
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


def as_line(one: MeasuredAgain | JumpMeasuredAgain) -> str:
    """The set or jump in one line for people."""
    if isinstance(one, JumpMeasuredAgain):
        now = one.trouble if one.height_m is None else f"now {100 * one.height_m:.1f} cm"
        return f"{one.kept.day}  jump  then {100 * one.kept.height_m:.1f} cm  {now}"
    head = f"{one.kept.day}  {one.kept.lift}  {one.kept.load_kg:g} kg"
    if one.trouble:
        return f"{head}  {one.trouble}"
    return f"{head}  then {_speeds(one.kept.velocities_m_s)}  now {_speeds(one.velocities_m_s)}"


def _speeds(velocities_m_s: tuple[float | None, ...]) -> str:
    return " ".join("–" if v is None else f"{v:.2f}" for v in velocities_m_s) or "none"
