"""What `athlete erase` does: the ledger first, then every record of the machine that no station holds open."""

from __future__ import annotations

from contextlib import closing
from datetime import date
from pathlib import Path

from station.commands.rack_command import utc_now
from station.store.database import FILE_NAME
from station.store.erased_ledger import Erasure, write_ledger
from station.store.errors import FolderInUse
from station.store.record import Record
from station.store.tables import new_id


def erase_everywhere(root: Path, athlete_id: str, day: date) -> list[str]:
    """Erase an athlete from every record in `root`; a sentence a record.

    Raises:
        FolderNotWritable: nothing was erased.
    """
    write_ledger(root, [Erasure(new_id(), athlete_id, day)])
    return [_applied(file.parent) for file in sorted(root.glob(f"*/{FILE_NAME}"))]


def _applied(folder: Path) -> str:
    try:
        with closing(Record(folder, folder.name, utc_now)):
            return f"{folder.name}: erased"
    except FolderInUse:
        return f"{folder.name}: its station is running and erases within a minute"
