"""Ids that order records as they were written, also when a machine's clock is wrong.

Of several rows about one thing the newest holds, and "newest" is the greatest id. An id is a UUIDv7 (RFC 9562) whose
time never runs back: it is the clock's, or just after the greatest id this record has seen, from whatever rack it
came. So whoever corrects a correction that is on their screen makes the greater id, with a clock an hour slow as
well; of two who did not know of each other the greater id holds, at every rack the same one. This is a hybrid logical
clock (Kulkarni, Demirbas, Madappa, Avva, Leone 2014, "Logical Physical Clocks") kept in the 48 bits of milliseconds
and the 12 bits after them, which RFC 9562 section 6.2 gives to a counter.
"""

from __future__ import annotations

import re
import secrets
import time
import uuid
from collections.abc import Callable, Iterable

from sqlalchemy import Connection

_V7 = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")
_COUNTER_BITS = 12
# An id from farther ahead than this comes from a broken clock; it would use up all the time there is.
FAR_AHEAD_MS = 100 * 365 * 24 * 3600 * 1000


def _system_ms() -> int:
    return time.time_ns() // 1_000_000


class IdClock:
    """Makes ids, each greater than every one made or seen before.

    Args:
        now_ms: the machine's clock, milliseconds since 1970.
    """

    def __init__(self, now_ms: Callable[[], int] = _system_ms) -> None:
        self._now_ms = now_ms
        self._last = 0

    def new(self) -> str:
        """A new id."""
        self._last = max(self._now_ms() << _COUNTER_BITS, self._last + 1)
        counter = self._last & ((1 << _COUNTER_BITS) - 1)
        milliseconds = self._last >> _COUNTER_BITS
        value = milliseconds << 80 | 7 << 76 | counter << 64 | 2 << 62 | secrets.randbits(62)
        return str(uuid.UUID(int=value))

    def saw(self, row_id: str | None) -> None:
        """A record with this id is known here now: ids made from here on are greater."""
        if row_id is None or not _V7.fullmatch(row_id):
            return  # another kind of id says nothing about time
        digits = row_id.replace("-", "")
        milliseconds, counter = int(digits[:12], 16), int(digits[13:16], 16)
        if milliseconds <= self._now_ms() + FAR_AHEAD_MS:
            self._last = max(self._last, milliseconds << _COUNTER_BITS | counter)


def greatest_ids(connection: Connection, names: Iterable[str]) -> list[str]:
    """The greatest UUIDv7 of each of these tables."""
    found = []
    for name in names:
        # From the end of the index on, past ids of another kind: one look in a table of any length.
        query = (
            f"SELECT id FROM {name} WHERE id < 'g' AND length(id) = 36 AND substr(id, 15, 1) = '7' "
            "ORDER BY id DESC LIMIT 1"
        )
        greatest = connection.exec_driver_sql(query).scalar()
        if greatest is not None:
            found.append(str(greatest))
    return found
