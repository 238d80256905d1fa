"""What can go wrong when the record is handed on, each with what to do."""

from __future__ import annotations

from pathlib import Path

from station.store.errors import StoreError


class NoRecord(StoreError):
    """There is nothing to read."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            f"there is no record in {path}; name a machine's data folder, one record's folder in it, or its file"
        )


class RecordUnreadable(StoreError):
    """A record's file cannot be read."""

    def __init__(self, file: Path, reason: str) -> None:
        super().__init__(
            f"{file} cannot be read ({reason}); open it once with this station and try again, nothing was changed"
        )


class SharedUnreadable(StoreError):
    """A shared database does not answer, or does not let this be read."""

    def __init__(self, url: str, reason: str) -> None:
        super().__init__(
            f"{url} cannot be read ({reason}); see that the server runs, and come in by the way for staff"
        )


class HealthDataNotAskedFor(StoreError):
    """Check-in answers leave the record only when that is said."""

    def __init__(self, say: str) -> None:
        super().__init__(
            "check-in answers are personal health data and nothing was handed out; "
            f"if you may have them, say so with {say}"
        )


class NoRawSamples(StoreError):
    """The shared database holds no raw samples."""

    def __init__(self) -> None:
        super().__init__(
            "raw samples lie beside each rack's own record and not in the shared database; read that machine's folder"
        )


class PackageUnreadable(StoreError):
    """What is to be taken in is no package that `export` wrote, or is not whole."""

    def __init__(self, file: Path, reason: str) -> None:
        super().__init__(f"{file} cannot be taken in ({reason}); nothing was written")


class NotebookMissing(StoreError):
    """pandas is not installed."""

    def __init__(self) -> None:
        super().__init__("tables for notebooks need pandas; install it with: pip install -e '.[notebook]'")
