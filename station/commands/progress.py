"""The progress bar of commands that read much."""

from __future__ import annotations

import sys

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn


def progress_bar() -> Progress:
    """On stderr; silent where stderr is no terminal. A file's name stands as it is."""
    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TimeRemainingColumn())
    console = Console(emoji=False, stderr=True)
    return Progress(*columns, console=console, disable=not sys.stderr.isatty(), transient=True)
