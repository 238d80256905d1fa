"""`import`: what `export` wrote, taken into a record of this machine."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from station.commands.fail import clear_failures, fail
from station.commands.options import DataOption


def import_command(
    package: Annotated[Path, typer.Argument(help="datapackage.json that 'export' wrote, or its folder.")],
    into: Annotated[str, typer.Option("--into", help="Which record of this machine takes it in.")] = "desk",
    data: DataOption = None,
) -> None:
    """Take in what 'export' wrote (CSV, JSON lines or Parquet), as often as you like.

    Rows keep their ids: what the record has already stays as it is there, and nothing comes in twice. Of erased
    athletes nothing is taken. Reps need their sets, in the package or in the record; sessions follow from the sets.
    A file that is not what was written is refused, and then nothing is taken. Close the station whose record takes it
    in. An older history of another device is 'import-history'.
    """
    from station.commands.folders import data_folder
    from station.commands.rack_command import utc_now
    from station.store.package_import import import_package
    from station.store.record import Record

    with clear_failures(), closing(Record(data_folder(data, into), into, utc_now)) as record:
        taken = import_package(record, package)
    for name in sorted({*taken.new, *taken.known, *taken.erased, *taken.orphans}):
        more = [f"{taken.known[name]} were there already"] if taken.known[name] else []
        more += [f"{taken.erased[name]} of erased athletes refused"] if taken.erased[name] else []
        typer.echo(", ".join([f"{name}: {taken.new[name]} taken in", *more]))
    lost = sum(taken.orphans.values())
    if lost:
        fail(
            f"{lost} rows were left out, since their sets are not here; export with --what sets as well",
            status=1,
        )


def register(app: typer.Typer) -> None:
    """Make the command of the app."""
    app.command("import")(import_command)
