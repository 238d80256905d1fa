"""What can be chosen on the command line of the simulated sensor: each option with its help and its limits."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class Bond(StrEnum):
    """What a sensor wants of a station before it streams."""

    NONE = "none"
    OFFERED = "offered"
    DEMANDED = "demanded"


class Errors(StrEnum):
    """How good the sensor is."""

    NONE = "none"
    CALIBRATED = "calibrated"
    UNCALIBRATED = "uncalibrated"


# What it measures
File = Annotated[
    Path | None,
    typer.Option(help="Play this recording (.csv, .parquet) or trace (.npz) instead of a lift."),
]
Lift = Annotated[str, typer.Option(help="Lift to perform, over and over.")]
Load = Annotated[float, typer.Option(help="Load on the bar, kg: the heavier, the slower.", min=0)]
OneRm = Annotated[float, typer.Option("--one-rm", help="What the lifter can lift once, kg.", min=1)]
Speed = Annotated[
    float | None,
    typer.Option(help="Mean speed of the first rep, m/s, instead of the load's.", min=0.1, max=3.0),
]
Reps = Annotated[int, typer.Option(help="Reps in a set; each is 3 % slower.", min=1, max=20)]
Sets = Annotated[int, typer.Option(help="Sets, with 20 s between them.", min=1, max=20)]
SensorErrors = Annotated[Errors, typer.Option(help="Errors of the sensor.")]
Seed = Annotated[int, typer.Option(help="The same seed gives the same samples.")]

# What it is
Sensors = Annotated[int, typer.Option(help="How many sensors.", min=1, max=64)]
Name = Annotated[str, typer.Option(help="Advertised name; a number is added.")]
Profile = Annotated[
    Path | None, typer.Option(help="Be the sensor of this profile (.toml) instead of the project's own.")
]
Packet = Annotated[int, typer.Option(help="Samples in a notification (20 at most).", min=1, max=20)]
Battery = Annotated[int, typer.Option(help="Battery level, percent.", min=0, max=100)]
Mtu = Annotated[int, typer.Option(help="Largest ATT MTU to agree to.", min=23, max=517)]
WantsBond = Annotated[Bond, typer.Option(help="Whether a bond is offered to stations, or demanded.")]
Private = Annotated[bool, typer.Option("--private", help="Use a private address that only a bond resolves.")]

# What goes wrong
Drop = Annotated[float, typer.Option(help="Share of notifications that are lost.", min=0, max=1)]
Double = Annotated[float, typer.Option(help="Share that are sent twice.", min=0, max=1)]
Swap = Annotated[float, typer.Option(help="Share that come after the following one.", min=0, max=1)]
Delay = Annotated[float, typer.Option(help="Share that are 30 to 150 ms late.", min=0, max=1)]
Truncate = Annotated[float, typer.Option(help="Share that are cut short.", min=0, max=1)]
Corrupt = Annotated[float, typer.Option(help="Share with wrong bytes.", min=0, max=1)]
Noise = Annotated[float, typer.Option(help="Share that are random bytes.", min=0, max=1)]
LeaveEvery = Annotated[
    float | None, typer.Option(help="End the connection this often, s, and be gone for two seconds.", min=5)
]

# Where it is
Transport = Annotated[
    list[str] | None,
    typer.Option(
        help="Go on the air through this HCI controller instead of a virtual radio: usb:0, "
        "serial:/dev/ttyACM0,1000000, tcp-client:HOST:PORT. Once for each sensor."
    ),
]
Port = Annotated[int, typer.Option(help="TCP port of the virtual radio on this machine; 0: a free one.")]
