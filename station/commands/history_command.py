"""`import-history`: an older history from a CSV file into the desk's record; previewed, asked, then written."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from station.commands.fail import clear_failures, fail
from station.commands.options import DataOption

if TYPE_CHECKING:
    from station.capture.history_desk import HistoryDesk
    from station.squad.history_source import Source

DESK = "desk"
SHOWN_ERRORS = 20

FileArgument = Annotated[
    Path | None,
    typer.Argument(help="CSV with a line a rep or a line a set. Without a file: earlier imports are listed."),
]
ColumnOption = Annotated[
    list[str] | None,
    typer.Option(
        help="Which column holds what, as WHAT=HEAD; WHAT is athlete, day, time, lift, load, velocity, "
        "'peak velocity', displacement, set or rep. May be given again; else it goes by the heads."
    ),
]
LoadUnitOption = Annotated[Literal["kg", "lb"] | None, typer.Option(help="Unit of the loads.")]
VelocityUnitOption = Annotated[
    Literal["m/s", "cm/s", "mm/s", "ft/s"] | None, typer.Option(help="Unit of the velocities.")
]
LengthUnitOption = Annotated[
    Literal["m", "cm", "mm", "in"] | None, typer.Option(help="Unit of the displacement.")
]
DaysOption = Annotated[
    Literal["year month day", "day month year", "month day year"] | None,
    typer.Option(help="Order in which a day is written."),
]
LiftOption = Annotated[
    list[str] | None,
    typer.Option(
        help="The lift of all lines, or WORD='back squat' for what the file calls it; again for more."
    ),
]
YesOption = Annotated[bool, typer.Option("--yes", help="Write without asking; only where no line is wrong.")]
TakeOutOption = Annotated[
    str | None, typer.Option(help="Key of an earlier import that is taken out, or brought back.")
]


def import_history(
    file: FileArgument = None,
    column: ColumnOption = None,
    load_unit: LoadUnitOption = None,
    velocity_unit: VelocityUnitOption = None,
    length_unit: LengthUnitOption = None,
    days: DaysOption = None,
    lift: LiftOption = None,
    label: Annotated[str, typer.Option(help="Where it comes from; without, the file's name.")] = "",
    staff: Annotated[str, typer.Option(help="Who imports it.")] = "",
    yes: YesOption = False,
    take_out: TakeOutOption = None,
    data: DataOption = None,
) -> None:
    """Bring an older history, measured by another device, into the desk's record.

    First it says how it understands the file: columns, units, sets, and what is wrong line by line. A unit that no
    head of a column states is asked for, never guessed. Nothing is written before you agree. Imported sets say so:
    their sensor is "imported", which the statistics take for other equipment. An import can be taken out as a whole.
    Athletes are found by name or id and must be in the roster. Close the desk's window meanwhile.
    """
    from station.capture.history_desk import HistoryDesk
    from station.commands.folders import data_folder
    from station.commands.rack_command import local_now, utc_now
    from station.squad.table_text import TableError
    from station.store.record import Record

    with clear_failures(), closing(Record(data_folder(data, DESK), DESK, utc_now)) as record:
        desk = HistoryDesk(record, local_now)
        if take_out is not None:
            _take_out(desk, take_out, staff)
        elif file is None:
            _list(desk)
        else:
            try:
                desk.open(file)
                desk.use(_said(desk, column or (), load_unit, velocity_unit, length_unit, days, lift or ()))
            except (TableError, ValueError) as error:
                fail(f"{file}: {error}")
            _ask(desk)
            _preview(desk)
            _write(desk, label, staff, yes=yes)


def _said(
    desk: HistoryDesk,
    columns: list[str] | tuple[()],
    load: str | None,
    velocity: str | None,
    length: str | None,
    days: str | None,
    lifts: list[str] | tuple[()],
) -> Source:
    from station.squad.history_source import COLUMNS, Column
    from station.squad.lifts import lift_named

    source = desk.source
    heads = desk.file.heads if desk.file is not None else ()
    chosen: dict[Column, str] = dict(source.columns)
    for words in columns:
        what, _, head = words.partition("=")
        if what not in COLUMNS or (head and head not in heads):
            raise ValueError(
                f"--column {words!r}: there is {', '.join(COLUMNS)}; the heads are {', '.join(heads)}"
            )
        chosen = {key: value for key, value in chosen.items() if value != head}
        chosen[what] = head
    named = {w: lift_named(name).name for w, _, name in (one.rpartition("=") for one in lifts) if w}
    plain = [lift_named(one).name for one in lifts if "=" not in one]
    return replace(
        source,
        columns={key: value for key, value in chosen.items() if value},
        load_unit=load or source.load_unit,
        velocity_unit=velocity or source.velocity_unit,
        length_unit=length or source.length_unit,
        day_order=days or source.day_order,
        lift=plain[-1] if plain else source.lift,
        lifts=named,
    )


def _ask(desk: HistoryDesk) -> None:
    """Everything that is not said is asked, where somebody can answer."""
    source = desk.source
    said = ", ".join(f"{what} = {head}" for what, head in source.columns.items())
    typer.echo(f"columns: {said}")
    units = (source.load_unit, source.velocity_unit, source.length_unit, source.day_order)
    names = ("load", "velocity", "displacement", "day")
    typer.echo(f"units: {', '.join(f'{n} {unit}' for n, unit in zip(names, units, strict=True) if unit)}")
    open_questions = desk.questions()
    if open_questions:
        fail(
            " ".join(open_questions) + " Say so with --column, --lift, --load-unit, --velocity-unit, "
            "--length-unit or --days."
        )


def _preview(desk: HistoryDesk) -> None:
    from station.capture.history_desk import preview_words

    for words in preview_words(desk.preview):
        typer.echo(words)
    errors = desk.preview.errors
    for error in errors[:SHOWN_ERRORS]:
        typer.echo(error.in_words(), err=True)
    if len(errors) > SHOWN_ERRORS:
        typer.echo(f"and {len(errors) - SHOWN_ERRORS} more lines", err=True)
    if desk.preview.unknown_lifts:
        typer.echo(
            f"say what these are with --lift WORD=LIFT: {', '.join(desk.preview.unknown_lifts)}", err=True
        )


def _write(desk: HistoryDesk, label: str, staff: str, *, yes: bool) -> None:
    from station.capture.history_desk import number_of

    errors = len(desk.preview.errors)
    if not desk.preview.sets:
        fail("nothing was written", status=1 if not errors else 2)
    if yes and errors:
        fail(
            f"{number_of(errors, 'line')} {'is' if errors == 1 else 'are'} wrong, and nothing was written; mend "
            "what is wrong, or leave --yes out to write the others"
        )
    question = f"Write {number_of(len(desk.preview.sets), 'set')}"
    question += f" and leave out {number_of(errors, 'line')}" if errors else ""
    if not yes:
        typer.confirm(f"{question}?", abort=True)
    written = desk.write(label, staff)
    typer.echo(f"{number_of(written.new, 'set')} written, {written.known} there already")
    if written.key is not None:
        typer.echo(f"to take it out again: python -m station import-history --take-out {written.key}")


def _list(desk: HistoryDesk) -> None:
    for one in desk.imports():
        state = ", taken out" if one.taken_out else ""
        who = one.staff or "nobody named"
        typer.echo(f"{one.key}: {one.label}, {one.sets} sets, {one.first} to {one.last}, {who}{state}")


def _take_out(desk: HistoryDesk, key: str, staff: str) -> None:
    one = next((one for one in desk.imports() if one.key == key), None)
    if one is None:
        fail(f"there is no import {key}; without a file this command lists them")
    count = desk.take_out(one, staff)
    typer.echo(f"{one.label}: {'brought back' if one.taken_out else 'taken out'}, {count} reps")


def register(app: typer.Typer) -> None:
    """Make the command of the app."""
    app.command("import-history")(import_history)
