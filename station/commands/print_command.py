"""`print`: a session or an athlete's season as a PDF to hand round."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

import typer

from station.commands.fail import clear_failures, fail
from station.commands.options import DataOption

app = typer.Typer(
    name="print",
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="A session or an athlete's season as a PDF with charts; no check-in answers.",
)
UnitOption = Annotated[Literal["kg", "lb"], typer.Option(help="Unit of loads.")]


@app.command()
def session(
    day: Annotated[
        datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Which day; without it, today.")
    ] = None,
    athlete: Annotated[str | None, typer.Option(help="One athlete alone, by name or id.")] = None,
    to: Annotated[
        Path | None, typer.Option("--to", help="The file; without it, session-DAY.pdf here.")
    ] = None,
    unit: UnitOption = "kg",
    data: DataOption = None,
) -> None:
    """Write what was lifted on a day: every set and rep, the warm-up beside the usual range, what was decided."""
    held = _application()  # as long as something is written
    from station.capture.session_sheet import session_sheet
    from station.commands.athlete_command import one_athlete
    from station.commands.folders import data_root
    from station.commands.rack_command import local_day, local_now
    from station.screens.a4_pdf import PrintFailed
    from station.screens.session_print import print_session
    from station.store.own_copy import DESK_TABLES, all_records

    root, when = data_root(data), day.date() if day is not None else local_day()
    with clear_failures():
        whose = one_athlete(root, athlete) if athlete is not None else None
        with all_records(root, DESK_TABLES) as record:
            sheet = session_sheet(record, when, whose)
    if not sheet.athletes:
        fail(f"nothing was lifted on {when} that the records in {root} know of", status=1)
    try:
        file = print_session(sheet, to or Path(f"session-{when}.pdf"), local_now(), unit)
    except PrintFailed as error:
        fail(str(error))
    del held
    typer.echo(f"written: {file}")


@app.command()
def athlete(
    name: Annotated[str, typer.Argument(help="The athlete's name, or id where two bear one name.")],
    lift: Annotated[str | None, typer.Option(help="Which lift; without it, the one most done.")] = None,
    to: Annotated[Path | None, typer.Option("--to", help="The file; without it, season.pdf here.")] = None,
    unit: UnitOption = "kg",
    data: DataOption = None,
) -> None:
    """Write an athlete's season: warm-up speed, estimated 1RM, jumps, and the load-velocity line then and now."""
    held = _application()  # as long as something is written
    from station.capture.review_athlete import ReviewAthletes
    from station.commands.athlete_command import one_athlete
    from station.commands.folders import data_root
    from station.commands.rack_command import local_day, local_now
    from station.screens.a4_pdf import PrintFailed
    from station.screens.season_print import print_season
    from station.squad.lifts import lift_named
    from station.store.own_copy import DESK_TABLES, all_records

    root = data_root(data)
    with clear_failures():
        whose, which = one_athlete(root, name), lift_named(lift).name if lift is not None else None
        with all_records(root, DESK_TABLES) as record:
            season = ReviewAthletes(record, local_day).season(whose, which)
    try:
        file = print_season(season, to or Path("season.pdf"), local_now(), unit)
    except PrintFailed as error:
        fail(str(error))
    del held
    typer.echo(f"written: {file}")


def _application() -> object:
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from station.screens.opening import screens_application

    return screens_application()
