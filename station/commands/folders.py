"""Where the record lies: the platform's data folder, one folder a rack, or the folder that is named."""

from __future__ import annotations

from pathlib import Path

from platformdirs import user_data_path


def data_folder(named: Path | None, rack: str) -> Path:
    """The folder of one rack's process."""
    root = named if named is not None else user_data_path("bar-speed-station", appauthor=False)
    return root / "".join(c if c.isalnum() else "-" for c in rack.lower())
