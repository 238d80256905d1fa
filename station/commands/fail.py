"""How commands fail: one clear sentence on stderr and exit status 2, never a traceback for what a person can mend."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NoReturn

import typer

from drivers.clock import ClockError
from drivers.recording import RecordingError
from drivers.toml_table import ProfileError
from station.commands.squad_file import SquadFileError
from station.squad.errors import UnknownLift
from station.store.errors import StoreError

BAD_INPUT = 2
MENDABLE = (StoreError, RecordingError, ProfileError, ClockError, UnknownLift, SquadFileError)


def fail(words: str, status: int = BAD_INPUT) -> NoReturn:
    """Say what is wrong and end."""
    sys.stderr.write(f"{' '.join(words.split())}\n")
    raise typer.Exit(status)


@contextmanager
def clear_failures() -> Iterator[None]:
    """Turn errors that a person can mend into their sentence and exit status 2."""
    try:
        yield
    except MENDABLE as error:
        fail(str(error))
