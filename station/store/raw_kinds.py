"""Raw samples that travel: of sets and of jumps, how the record names their files, where the server keeps them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Column, Select, Table, select

from station.store.raw_files import KEPT_FOR
from station.store.share_tables import raw_contents, raw_jump_contents
from station.store.squad_tables import jumps
from station.store.tables import raw_files, sets


@dataclass(frozen=True, slots=True)
class RawName:
    """One file of raw samples as the record names it; `set_id` is the jump's own where it is of a jump."""

    raw_id: str
    set_id: str
    file: str
    sha256: str


@dataclass(frozen=True, eq=False, slots=True)
class Kind:
    """Sets or jumps: where contents lie on the server, and how the record names their files."""

    contents: Table
    raw_id: Column[Any]
    named: Select[Any]
    day: Column[Any]

    def kept(self, today: date) -> Select[Any]:
        """Files whose raw samples are still kept."""
        return self.named.where(self.day >= today - KEPT_FOR)

    def row(self, one: RawName, content: bytes) -> dict[str, Any]:
        """As the server keeps it."""
        row = {"raw_id": one.raw_id, "set_id": one.set_id, "sha256": one.sha256, "content": content}
        return {name: value for name, value in row.items() if name in self.contents.c}


COLUMNS = (raw_files.c.id, raw_files.c.set_id, raw_files.c.file, raw_files.c.sha256)
OF_SETS = Kind(
    raw_contents,
    raw_files.c.id,
    select(*COLUMNS).join(sets, sets.c.id == raw_files.c.set_id),
    sets.c.day,
)
OF_JUMPS = Kind(
    raw_jump_contents,
    jumps.c.id,
    select(jumps.c.id, jumps.c.id.label("of"), jumps.c.raw_file, jumps.c.raw_sha256).where(
        jumps.c.raw_file.is_not(None)
    ),
    jumps.c.day,
)
KINDS = (OF_SETS, OF_JUMPS)
