"""The commands `equipment` and `autostart`: what a rack has, and a rack that starts with its machine."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from station.commands.fail import clear_failures, fail
from station.commands.options import DataOption, RackOption


def equipment(
    file: Annotated[
        Path | None,
        typer.Argument(
            help="CSV with the columns kind (bar, plate, collars: both together, sensor), label (what is written on "
            "it), weighed_kg; optional: unit (kg or lb, of the label), pairs (0: gone). Without a file: what is "
            "written down is listed."
        ),
    ] = None,
    rack: RackOption = "rack 1",
    data: DataOption = None,
) -> None:
    """Write down what a rack has as the scale weighed it, or list it.

    A plate that is 3 % off is worth a day's difference in bar speed, so what a load weighs is taken from the scale.
    The first bar is the usual one. A row with the same kind, label and unit replaces the earlier one.
    """
    from station.commands.equipment_file import listed, read_equipment
    from station.commands.folders import data_folder
    from station.commands.rack_command import utc_now
    from station.store.rack_things import thing_row, things_of
    from station.store.record import Record

    with clear_failures():
        read = read_equipment(file) if file is not None else None
        record = Record(data_folder(data, rack), rack, utc_now)
        try:
            if read is None:
                for line in listed(things_of(record)):
                    typer.echo(line)
                return
            record.add_rows("equipment", [thing_row(thing) for thing in read.things])
        finally:
            record.close()
    for complaint in read.complaints:
        typer.echo(complaint, err=True)
    typer.echo(f"{len(read.things)} bars and plates written down, {len(read.complaints)} rows left out")


def autostart(
    rack: RackOption = "rack 1",
    file: Annotated[Path | None, typer.Option(help="Write the file there instead.")] = None,
) -> None:
    """Let this rack's screen start with the machine.

    Writes a systemd user unit (Linux) or a task for the scheduler (Windows) and says the one command that makes it
    work. After a power cut the station then comes back to the same rack, group, athlete and open set.
    """
    from station.commands.autostart import write_autostart

    try:
        written, next_step = write_autostart(rack, file, Path.cwd())
    except OSError as error:
        fail(f"{error.filename}: cannot be written ({error.strerror})")
    typer.echo(f"written: {written}")
    typer.echo(f"now run: {next_step}")


def register(app: typer.Typer) -> None:
    """Make both commands of the app."""
    app.command()(equipment)
    app.command()(autostart)
