"""`assess`: a day's sets against each athlete's own history, from CSV files."""

from __future__ import annotations

import json
import sys
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.table import Table

from station.commands.progress import progress_bar
from station.commands.sets_file import PlanFile, SetsFileError, read_plans, read_sets
from station.readiness.squad_day import DayLine, assess_day


class OutputFormat(StrEnum):
    """How athletes are printed."""

    JSONL = "jsonl"
    TABLE = "table"


def assess(
    sets: Annotated[
        Path,
        typer.Argument(
            help="CSV: athlete_id, day, lift, load_kg, mean_velocity_m_s (fastest counted rep of each set), in order "
            "of time; optional: session, displacement_m."
        ),
    ],
    day: Annotated[datetime, typer.Option(formats=["%Y-%m-%d"], help="Today; earlier days are the history.")],
    plan: Annotated[
        Path | None,
        typer.Option(
            help="CSV: athlete_id, lift, planned_load_kg, ceiling_kg; optional: warmup_load_kg, velocity_at_1rm_m_s."
        ),
    ] = None,
    output: Annotated[
        OutputFormat, typer.Option("--format", help="jsonl: one JSON object an athlete; table: for reading.")
    ] = OutputFormat.JSONL,
) -> None:
    """Set today's warm-up sets beside each athlete's own history and suggest loads.

    Bad rows are named on stderr by line and left out. A file that cannot be read gets one line on stderr and exit
    status 2. A suggestion is a suggestion: a coach decides.
    """
    try:
        read = read_sets(sets)
        plans = read_plans(plan) if plan is not None else PlanFile({}, ())
    except SetsFileError as error:
        print(error, file=sys.stderr)
        raise typer.Exit(2) from error
    with progress_bar() as progress:
        task = progress.add_task("athletes", total=None)
        lines = assess_day(
            read.sets,
            day.date(),
            plans.plans,
            progress=lambda done, of: progress.update(task, completed=done, total=of),
        )
    complaints = (*read.complaints, *plans.complaints)
    for complaint in complaints:
        print(complaint, file=sys.stderr)
    if complaints:
        print(f"{len(complaints)} rows left out", file=sys.stderr)
    _hints(lines)
    if output is OutputFormat.JSONL:
        for line in lines:
            print(json.dumps(as_record(line), ensure_ascii=False, allow_nan=False))
    else:
        Console(emoji=False, width=None if sys.stdout.isatty() else 180).print(_table(lines))


def register(app: typer.Typer) -> None:
    """Make `assess` a command of the app."""
    app.command()(assess)


def as_record(line: DayLine) -> dict[str, Any]:
    """One athlete and lift as the command prints it; every key, null where a figure cannot be given."""
    now, usual, plan, said = line.assessed, line.usual, line.plan, line.suggestion
    return {
        "athlete_id": line.athlete_id,
        "lift": line.lift,
        "load_kg": line.warmup.load_kg if line.warmup else None,
        "mean_velocity_m_s": line.warmup.mean_velocity_m_s if line.warmup else None,
        "usual_low_m_s": _rounded(usual.low_m_s),
        "usual_high_m_s": _rounded(usual.high_m_s),
        "verdict": str(now.verdict) if now else None,
        "probability_slower": _rounded(now.probability_slower if now else None),
        "probability_faster": _rounded(now.probability_faster if now else None),
        "sessions_in_history": usual.sessions,
        "today_1rm_kg": _rounded(now.today_1rm_kg if now else None, 2),
        "today_1rm_low_kg": _rounded(now.today_1rm_low_kg if now else None, 2),
        "today_1rm_high_kg": _rounded(now.today_1rm_high_kg if now else None, 2),
        "planned_load_kg": plan.planned_load_kg if plan else None,
        "suggested_load_kg": _rounded(said.load_kg, 3),
        "reason": _reason(line),
    }


def _rounded(value: float | None, digits: int = 4) -> float | None:
    return None if value is None else round(value, digits)


def _reason(line: DayLine) -> str:
    """The suggestion's sentence and how sure it is, or why there is none."""
    said = line.suggestion
    words = (
        f"{said.sentence} {said.sureness[:1].upper()}{said.sureness[1:]}." if said.sureness else said.sentence
    )
    if line.why_not:
        words = f"Not judged: {line.why_not}. {words}"
    if line.assessed is not None and line.assessed.extrapolated:
        words = f"{words} The 1RM is extrapolated from light loads; not permission to try it."
    hint = line.shows.in_words(line.warmup_load_kg) if line.shows else ""
    return f"{words} {hint}".strip()


def _hints(lines: list[DayLine]) -> None:
    """On stderr, how many have a warm-up load that is too light to show much."""
    weak = sum(bool(line.shows and line.shows.in_words(line.warmup_load_kg)) for line in lines)
    if weak:
        print(
            f"{weak} of {len(lines)}: the warm-up load shows a loss of strength only beyond 7 %; the reason says "
            "which heavier one would do",
            file=sys.stderr,
        )


_HEADS = (
    "athlete",
    "lift",
    "load",
    "speed",
    "usual",
    "verdict",
    "sessions",
    "1RM today",
    "plan",
    "suggested",
)


def _table(lines: list[DayLine]) -> Table:
    table = Table(box=None, pad_edge=False)
    for head in _HEADS:
        table.add_column(head, no_wrap=True)
    table.add_column("reason", ratio=1)
    for line in lines:
        row = as_record(line)
        table.add_row(
            row["athlete_id"],
            row["lift"],
            _cell(row["load_kg"], "{:g} kg"),
            _cell(row["mean_velocity_m_s"], "{:.2f}"),
            _pair(row["usual_low_m_s"], row["usual_high_m_s"], "{:.2f}"),
            row["verdict"] or "–",
            str(row["sessions_in_history"]),
            _pair(row["today_1rm_low_kg"], row["today_1rm_high_kg"], "{:.0f}"),
            _cell(row["planned_load_kg"], "{:g} kg"),
            _cell(row["suggested_load_kg"], "{:g} kg"),
            row["reason"],
        )
    return table


def _cell(value: float | None, shape: str) -> str:
    return "–" if value is None else shape.format(value)


def _pair(low: float | None, high: float | None, shape: str) -> str:
    return "–" if low is None or high is None else f"{shape.format(low)} to {shape.format(high)}"
