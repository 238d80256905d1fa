"""`athlete`: what one person can ask for at any time, a copy of everything about them, or that it be erased."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from station.commands.fail import clear_failures, fail
from station.commands.options import DataOption

app = typer.Typer(
    name="athlete",
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="One athlete's own copy of everything about them, or its erasure.",
)
NameArgument = Annotated[str, typer.Argument(help="The athlete's name, or id where two bear one name.")]


@app.command()
def copy(
    name: NameArgument,
    to: Annotated[Path, typer.Option("--to", help="Folder for the copy.")] = Path("own-copy"),
    data: DataOption = None,
) -> None:
    """Write everything that this machine's records hold about one athlete: a PDF to read, and CSV. Erases nothing.

    It holds check-in answers and staff's notes about the athlete: hand it to that athlete alone.
    """
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from station.commands.folders import data_root
    from station.commands.rack_command import local_day
    from station.screens.a4_pdf import PrintFailed
    from station.screens.opening import screens_application
    from station.screens.own_copy_print import print_own_copy
    from station.store.own_copy import gather, write_csv

    root, day = data_root(data), local_day()
    with clear_failures():
        found = gather(root, one_athlete(root, name), day)
        files = write_csv(found, to)
    _application = screens_application()
    try:
        files.insert(0, print_own_copy(found, to / "own-copy.pdf"))
    except PrintFailed as error:
        fail(str(error))
    for file in files:
        typer.echo(f"written: {file}")


@app.command()
def erase(
    name: NameArgument,
    data: DataOption = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask again.")] = False,
) -> None:
    """Erase one athlete from every record of this machine, and from all that share with it. This cannot be undone.

    Sets, reps, raw samples, jumps, check-ins, plans, notes and the name go; a UUID and the date stay, so that
    whatever of theirs arrives later, from a rack that was off or a backup, is refused. A running station applies it
    within a minute. Printed pages, exported files and backups that lie elsewhere are not reached: a backup is erased
    when it is brought back.
    """
    from station.commands.erasing import erase_everywhere
    from station.commands.folders import data_root
    from station.commands.rack_command import local_day

    root = data_root(data)
    with clear_failures():
        athlete_id = one_athlete(root, name)
        if not yes:
            typer.confirm(f"Erase everything about {name}? This cannot be undone", abort=True)
        for line in erase_everywhere(root, athlete_id, local_day()):
            typer.echo(line)


def one_athlete(root: Path, name: str) -> str:
    """The id of whoever is meant, by name or id; where it is nobody or several the command ends with a sentence."""
    from station.commands.rack_command import local_day
    from station.store.own_copy import people

    found = people(root, local_day())
    ids = (
        [name]
        if name in found
        else [key for key, known in found.items() if known.casefold() == name.casefold()]
    )
    if not ids:
        fail(f"no athlete called {name} in {root}; the roster is at the desk, or name the folder with --data")
    if len(ids) > 1:
        fail(f"{len(ids)} athletes are called {name}; name one by id: {', '.join(ids)}")
    return ids[0]
