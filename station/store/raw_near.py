"""Where the raw samples of a set lie on this machine, or in a sentence why they cannot be read here.

Raw files lie beside the record of the rack that kept them; where a database is shared they come from there, slowly or
when their set is opened.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from station.store.database import FILE_NAME
from station.store.effective import effective_sets, set_row
from station.store.errors import ServerAway, ServerRefused
from station.store.kept_raw import KeptSet
from station.store.nearby import neighbours
from station.store.raw_files import FOLDER, KEPT_FOR
from station.store.raw_shared import fetch_set
from station.store.shared_setting import url_for
from station.store.sharing import Role
from station.store.tables import raw_files, sets


@dataclass(frozen=True, slots=True)
class NearRaw:
    """A set's raw file: the record's folder that has it, and what measuring it again needs.

    Attributes:
        kept: None where they cannot be read; `why_not` then says it in a sentence.
        elsewhere: they may lie in the shared database, from where `fetch_set` brings them.
    """

    folder: Path | None
    kept: KeptSet | None
    why_not: str = ""
    elsewhere: bool = False


def near_raw(
    connection: Connection, folder: Path, set_id: str, today: date, *, fetch: bool = True
) -> NearRaw:
    """Look for the raw samples of a set in this record and in those beside it, then in the shared database.

    Args:
        folder: this record's own.
        fetch: False: the shared database is not asked, which may take seconds; `elsewhere` says whether it can be.
    """
    row = connection.execute(effective_sets().where(sets.c.id == set_id)).first()
    if row is None:
        return NearRaw(None, None, "This set is no longer in the record.")
    now = set_row(row)
    named = _named(connection, folder, set_id)
    if named is None:
        words = f"No raw samples of this set are known on this machine: they lie at {now.rack}, or none were kept."
        return NearRaw(None, None, f"{words} Reps and curves stay as they were measured.")
    file, sha256 = named
    homes = [folder, *(beside.parent for beside in neighbours(folder))]
    home = next((one for one in homes if (one / FOLDER / file).exists()), None)
    if home is None and not fetch:
        elsewhere = now.day >= today - KEPT_FOR and url_for(folder.parent, Role.STAFF) is not None
        return NearRaw(None, None, _gone(now.day, now.rack, today), elsewhere)
    if home is None:
        try:
            home = folder if fetch_set(folder, set_id) else None
        except (ServerAway, ServerRefused) as error:
            return NearRaw(None, None, f"The raw samples of this set are not here: {error}")
    if home is None:
        return NearRaw(None, None, _gone(now.day, now.rack, today))
    return NearRaw(home, _kept(row, file, sha256))


def _gone(day: date, rack: str, today: date) -> str:
    if day < today - KEPT_FOR:
        return "The raw samples of this set were deleted after two seasons; reps and curves stay."
    return f"The raw samples of this set are gone: no file of them is left on this machine or they lie at {rack}."


def _named(connection: Connection, folder: Path, set_id: str) -> tuple[str, str] | None:
    """File and checksum by this record or one beside it."""
    r = raw_files.c
    own = connection.execute(select(r.file, r.sha256).where(r.set_id == set_id).order_by(r.id.desc())).first()
    if own is not None:
        return own.file, own.sha256
    for beside in neighbours(folder):
        with suppress(sqlite3.Error), closing(_reading(beside)) as other:
            query = "SELECT file, sha256 FROM raw_files WHERE set_id = ? ORDER BY id DESC LIMIT 1"
            found = other.execute(query, (set_id,)).fetchone()
            if found is not None:
                return found[0], found[1]
    return None


def _reading(file: Path) -> sqlite3.Connection:
    assert file.name == FILE_NAME
    return sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True, timeout=2.0)


def _kept(row: Any, file: str, sha256: str) -> KeptSet:
    now = set_row(row)
    return KeptSet(
        now.set_id,
        now.day,
        now.lift,
        now.load_kg,
        file,
        sha256,
        row.calibration,
        row.sensor_range_m_s2,
        row.usual_range_of_motion_m,
        row.engine_version,
        (),
    )
