"""What a record holds of the days since a test began: one that is played in real time may go on past midnight."""

from __future__ import annotations

from datetime import date, timedelta

from station.commands.rack_command import local_day
from station.store.record import Record
from station.store.rows import RepRow


def reps_since(record: Record, day: date) -> list[list[RepRow]]:
    """The reps of each set of this day and those after it, up to today."""
    days = [day + timedelta(days=later) for later in range((local_day() - day).days + 1)]
    return [record.reps_of(row.set_id) for one in days for row in record.sets_on(one)]
