"""Where a rack stands: its group, whose turn it is, lift and load. Kept in a small file, so that after a power cut
the same people stand at the same bar.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path

log = logging.getLogger(__name__)

FILE_NAME = "at-the-bar.json"


@dataclass(frozen=True, slots=True)
class Place:
    """One rack in one session.

    Attributes:
        group: athletes in lifting order, called up from elsewhere or guests among them.
        current, confirmed, proposed: as in `LineUp`.
        staff: who is signed in; None: nobody.
    """

    day: str
    session: int
    group: tuple[str, ...]
    current: str | None
    confirmed: bool
    proposed: str | None
    lift: str
    load_kg: float
    staff: str | None = None

    def holds(self, day: date, session: int) -> bool:
        """Whether it is this session's."""
        return (self.day, self.session) == (day.isoformat(), session)


def read_place(folder: Path) -> Place | None:
    """The kept place; None where there is none, or the file makes no sense (said in the log)."""
    file = folder / FILE_NAME
    if not file.exists():
        return None
    try:
        kept = json.loads(file.read_text(encoding="utf-8"))
        return Place(**(kept | {"group": tuple(kept["group"]), "load_kg": float(kept["load_kg"])}))
    except (OSError, ValueError, TypeError, KeyError) as error:
        log.warning("%s is not understood (%s): the rack starts with its first athlete", file, error)
        return None


def keep_place(folder: Path, place: Place) -> None:
    """Keep it, whole or not at all; a folder that refuses is no reason to stop lifting (said in the log)."""
    file = folder / FILE_NAME
    half = file.with_suffix(".new")
    try:
        with half.open("w", encoding="utf-8") as out:
            json.dump(asdict(place), out)
            out.flush()
            os.fsync(out.fileno())
        half.replace(file)
    except OSError as error:
        log.warning("who stands at the bar could not be kept: %s", error)
        with contextlib.suppress(OSError):
            half.unlink(missing_ok=True)
