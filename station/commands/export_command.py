"""`export`: the record as files for spreadsheets, statistics programs and notebooks, with a schema beside them."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Literal

import typer

from station.commands.fail import clear_failures


class What(StrEnum):
    """The tables by name; typer takes no list of literals."""

    REPS = "reps"
    SETS = "sets"
    SESSIONS = "sessions"
    JUMPS = "jumps"
    CHECKINS = "checkins"
    RAW = "raw"
    ATHLETES = "athletes"


def export_command(
    folder: Annotated[
        Path,
        typer.Argument(
            help="Folder for the files; files of the same name are replaced, so take a new one each time."
        ),
    ],
    what: Annotated[
        list[What], typer.Option("--what", help="Which table; may be given again for several in one package.")
    ],
    first: Annotated[
        datetime | None,
        typer.Option("--from", formats=["%Y-%m-%d"], help="First day; without it, from the start."),
    ] = None,
    last: Annotated[
        datetime | None,
        typer.Option("--to", formats=["%Y-%m-%d"], help="Last day, included; without it, the newest."),
    ] = None,
    form: Annotated[
        Literal["csv", "parquet", "jsonl"], typer.Option("--format", help="Kind of file.")
    ] = "csv",
    with_health_data: Annotated[
        bool,
        typer.Option(
            "--with-health-data", help="Check-in answers are personal health data: needed for them."
        ),
    ] = False,
    data: Annotated[
        Path | None,
        typer.Option("--data", help="Folder of the records; or one record's folder in it."),
    ] = None,
) -> None:
    """Write reps, sets, sessions, jumps, check-ins, raw samples or athletes as files, with a schema of every column.

    All records of this machine are read together as they stand now: corrections applied, erased athletes left out;
    also while stations run. Rows keep the record's own ids for ever. `datapackage.json` beside the files
    (Frictionless Data Package and Table Schema) names every column, its unit and meaning. The files bear athletes'
    names, and an erasure does not reach them.
    """
    from station.commands.export_run import run_export

    with clear_failures():
        run_export(
            data,
            folder,
            [table.value for table in what],
            first.date() if first else None,
            last.date() if last else None,
            form,
            with_health_data=with_health_data,
        )


def register(app: typer.Typer) -> None:
    """Make the command of the app."""
    app.command("export")(export_command)
