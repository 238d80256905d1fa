"""Options that several commands have, worded once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

DataOption = Annotated[
    Path | None,
    typer.Option(
        "--data", help="Folder of the records; without it, this machine's own place for program data."
    ),
]
RackOption = Annotated[
    str, typer.Option("--rack", help="Name of the rack; each has its own record, sensor and group.")
]
RadioOption = Annotated[
    str | None,
    typer.Option(
        "--radio",
        help="Radio other than this machine's Bluetooth: a transport such as tcp-client:127.0.0.1:40123 (the "
        "virtual radio of 'python -m simulated_sensor') or usb:0.",
    ),
]
ThemeOption = Annotated[Literal["dark", "light"], typer.Option(help="Colours of the screen.")]
FullScreenOption = Annotated[bool, typer.Option("--full-screen", help="Fill the screen, without a frame.")]
DiagonalOption = Annotated[
    float, typer.Option(help="Diagonal of the screen in inches; all sizes follow from it.", min=5, max=120)
]
