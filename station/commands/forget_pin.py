"""`forget-pin`: somebody's PIN holds no longer, for whoever has forgotten it."""

from __future__ import annotations

from typing import Annotated

import typer

from station.commands.fail import clear_failures, fail
from station.commands.options import DataOption


def forget_pin(
    name: Annotated[str, typer.Argument(help="Whose, as the name stands on the screen.")],
    data: DataOption = None,
) -> None:
    """Forget a PIN of staff, so that its owner chooses another. Close *Today* first.

    The new one is chosen beside a colleague: who has a PIN signs in at the desk and picks the name, then its owner
    types the new PIN. If nobody has a PIN any more, the first who signs in may choose one: be there.
    """
    from station.commands.folders import data_folder
    from station.commands.rack_command import utc_now
    from station.commands.today_command import DESK
    from station.store.nearby import take_over
    from station.store.rack_things import pin_hashes
    from station.store.record import Record

    with clear_failures():
        record = Record(data_folder(data, DESK), DESK, utc_now)
        try:
            if name not in pin_hashes(record):
                fail(f"{name} has no PIN here; names are written as on the screen")
            take_over(record, ("staff_pins",))  # so that this row is newer than any of theirs
            record.add_rows("staff_pins", [{"staff": name, "pin_hash": ""}])
            left = len(pin_hashes(record))
        finally:
            record.close()
    beside = (
        "beside a colleague with a PIN" if left else "now, before anybody else does: nobody has one any more"
    )
    typer.echo(f"The PIN of {name} is forgotten. Choose another {beside}.")


def register(app: typer.Typer) -> None:
    """Make the command of the app."""
    app.command("forget-pin")(forget_pin)
