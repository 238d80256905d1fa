"""Where the record lies: the platform's data folder, one folder a rack, or the folder that is named."""

from __future__ import annotations

from pathlib import Path

from platformdirs import user_data_path


def data_root(named: Path | None) -> Path:
    """The folder that holds all racks' folders, and what they share."""
    return named if named is not None else user_data_path("bar-speed-station", appauthor=False)


def data_folder(named: Path | None, rack: str) -> Path:
    """The folder of one rack's process."""
    return data_root(named) / "".join(c if c.isalnum() else "-" for c in rack.lower())
