"""Who may add and who may read which table of the shared record: granted by the database, table by table.

A rack, a kiosk and a jump line add what is measured and answered there, and read what they need to show: never an
answer, a note of medical staff, or a PIN. Staff's desk adds and reads all, and it alone changes tables.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from station.store.record import SHARED_TABLES


class Role(StrEnum):
    """As whom a record takes part."""

    RACK = "rack"
    STAFF = "staff"


SHARED = SHARED_TABLES
_STAFF_READ = ("check_ins", "entry_events", "staff_pins", "comments")
# What decides over people, who staff are and with which PIN: at the desk alone.
_STAFF_ADD = (
    "staff",
    "staff_pins",
    "entry_events",
    "training_statuses",
    "erasures",
    "comments",
    "squad_rules",
)


@dataclass(frozen=True, slots=True)
class Rights:
    """Tables a role adds to, and tables it reads, parents first."""

    adds: tuple[str, ...]
    reads: tuple[str, ...]


RIGHTS = {
    Role.RACK: Rights(
        tuple(name for name in SHARED if name not in _STAFF_ADD),
        tuple(name for name in SHARED if name not in _STAFF_READ),
    ),
    Role.STAFF: Rights(SHARED, SHARED),
}
