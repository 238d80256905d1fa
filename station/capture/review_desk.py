"""The review desk's hand on the record: strike, restore, move, name the lift, change the load, comment, accept, undo.

Everything is a correction with who, when and why; what was measured stays. Lives in one thread of its desk.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from station import __version__
from station.capture.desk_sign_in import DeskSignIn
from station.capture.old_beside_new import pair_reps
from station.squad.lifts import lift_named
from station.store.effective import MEASURED_AGAIN, effective_sets, set_row
from station.store.erasure import catch_up
from station.store.nearby import DESK_TABLES, signature, take_over
from station.store.record import Record
from station.store.review_record import Change, newest_corrections, rows_measured_again, write_changes
from station.store.rows import NewRep, SetRow
from station.store.set_detail import SetDetail, set_detail
from station.store.tables import sets
from station.store.unwell_nearby import OpenUnwell

MOST_LOAD_KG = 600.0
COMMENT_LENGTH = 1000


class ReviewRefused(Exception):
    """Not done: the sentence says why and what to do."""


@dataclass(frozen=True, slots=True)
class Done:
    """What was done, in words; `undo`: what would be taken back now, "" for nothing."""

    words: str
    undo: str = ""


@dataclass(frozen=True, slots=True)
class _Step:
    words: str
    changes: tuple[Change, ...]
    written: dict[tuple[str, str], str] = field(default_factory=dict)


class ReviewDesk:
    """Writes one desk's record.

    Args:
        record: the desk's own.
        now: local date and time.
    """

    def __init__(self, record: Record, now: Callable[[], datetime]) -> None:
        self.record = record
        self.signed = DeskSignIn(record, now)
        self._now, self._unwell = now, OpenUnwell(record)
        self._steps: list[_Step] = []
        self._seen: tuple[object, ...] = ()

    def look_around(self) -> bool:
        """Take over what the other records of this machine have; whether there was anything new, here or there."""
        catch_up(self.record)
        seen = signature(self.record.database.folder)
        if seen == self._seen:
            return False
        take_over(self.record, DESK_TABLES)
        self._seen = signature(self.record.database.folder)
        return True

    def open_unwell(self) -> int:
        """How many entries of pain or illness are open."""
        return self._unwell.count(self._now())

    # -- what staff do ---------------------------------------------------------------------------------------------

    def strike(self, rep_ids: Sequence[str], set_id: str, struck: bool, why: str) -> Done:
        """Strike reps of a set out, or put them back."""
        detail = set_detail_of(self.record, set_id)
        was = {rep.row.rep_id: rep.row.struck for rep in detail.now if rep.row.rep_id in set(rep_ids)}
        changes = [Change(key, "struck", before, struck) for key, before in was.items() if before != struck]
        return self._write(
            changes, f"{_count(len(changes), 'rep')} {'struck out' if struck else 'restored'}", why
        )

    def move(self, set_ids: Sequence[str], athlete_id: str, name: str, why: str) -> Done:
        """Sets, with reps and raw samples, belong to this athlete."""
        changes = [Change(s.set_id, "athlete_id", s.athlete_id, athlete_id) for s in self._sets(set_ids)]
        return self._write(changes, f"{{}} moved to {name}", why)

    def relabel(self, set_ids: Sequence[str], lift: str, why: str) -> Done:
        """Sets are of this lift.

        Raises:
            UnknownLift: with the list.
        """
        name = lift_named(lift).name
        changes = [Change(s.set_id, "lift", s.lift, name) for s in self._sets(set_ids)]
        return self._write(changes, f"{{}} named {name}", why)

    def change_load(self, set_ids: Sequence[str], load_kg: float, in_words: str, why: str) -> Done:
        """Sets were lifted with this load, kg."""
        if not 0.0 < load_kg <= MOST_LOAD_KG:
            raise ReviewRefused(f"A load lies between 0 and {MOST_LOAD_KG:g} kg.")
        changes = [Change(s.set_id, "load_kg", s.load_kg, load_kg) for s in self._sets(set_ids)]
        return self._write(changes, f"{{}} changed to {in_words}", why)

    def comment(self, set_ids: Sequence[str], words: str) -> Done:
        """Write the same words beside each of these sets."""
        staff, words = self._who(), " ".join(words.split())
        if not words or len(words) > COMMENT_LENGTH:
            raise ReviewRefused(f"A comment has 1 to {COMMENT_LENGTH} characters.")
        rows = [
            {"id": self.record.born()["id"], "set_id": key, "words": words, "staff": staff} for key in set_ids
        ]
        self.record.add_rows("comments", rows)
        # Taken back by striking what was written: nothing is deleted.
        changes = tuple(Change(row["id"], "struck", True, False) for row in rows)
        return self._did(_Step(f"comment beside {_count(len(rows), 'set')}", changes))

    def unsay(self, comment_id: str, why: str) -> Done:
        """Take a comment back; it stays in the record, struck."""
        return self._write([Change(comment_id, "struck", False, True)], "comment taken back", why)

    def accept(self, set_id: str, found: Sequence[NewRep], why: str) -> Done:
        """What today's engine found holds from now on; what was measured before stays in the record."""
        detail = set_detail_of(self.record, set_id)
        measured_by = measurement_name(found)
        if detail.measured_by == measured_by:
            raise ReviewRefused("This measurement holds already.")
        rows = rows_measured_again(self.record, set_id, measured_by, found)
        changes = [Change(r.row.rep_id, "struck", False, True) for r in detail.now if not r.row.struck]
        # A rep that a person struck out stays struck, whoever measured it; taken back, none of the new ones counts.
        changes += [
            Change(rows[at]["id"], "struck", True, old is not None and old.struck)
            for old, at in pair_reps([rep.row for rep in detail.now], found)
            if at is not None
        ]
        changes.append(Change(set_id, MEASURED_AGAIN, detail.measured_by or None, measured_by))
        staff = self._who()
        words = f"measured again by engine {__version__}"
        written = write_changes(self.record, changes, staff, why or words, rows)
        return self._did(_Step(f"1 set {words}", tuple(changes), written))

    def undo(self) -> Done:
        """Take back what was done last at this desk; what somebody has corrected since stays as they left it."""
        if not self._steps:
            return Done("There is nothing to take back.")
        staff, step = self._who(), self._steps[-1]
        newest = newest_corrections(self.record, step.changes)
        mine = [c for c in step.changes if self._still_mine(c, step, newest)]
        write_changes(self.record, [c.back for c in mine], staff, f"taken back: {step.words}")
        self._steps.pop()
        others = len(step.changes) - len(mine)
        kept = f"; {others} corrected by somebody else since, left as it is" if others else ""
        return Done(f"Taken back: {step.words}{kept}", self._next_undo())

    # -- how ---------------------------------------------------------------------------------------------------------

    def _still_mine(
        self, change: Change, step: _Step, newest: dict[tuple[str, str], tuple[str, str]]
    ) -> bool:
        key = (change.target_id, change.field)
        return newest.get(key, ("", ""))[0] == step.written.get(key, "")

    def _write(self, changes: Iterable[Change], words: str, why: str) -> Done:
        staff = self._who()
        real = [c for c in changes if c.before != c.to]
        if not real:
            return Done("Nothing to change: it is so already.", self._next_undo())
        written = write_changes(self.record, real, staff, " ".join(why.split())[:400])
        return self._did(_Step(words.format(_count(len(real), "set")), tuple(real), written))

    def _did(self, step: _Step) -> Done:
        self._steps.append(step)
        self._seen = ()
        return Done(f"{step.words[0].upper()}{step.words[1:]}", self._next_undo())

    def _next_undo(self) -> str:
        return self._steps[-1].words if self._steps else ""

    def _who(self) -> str:
        if self.signed.staff is None:
            raise ReviewRefused("Sign in first: a correction carries a name.")
        self.signed.touched()
        return self.signed.staff

    def _sets(self, set_ids: Sequence[str]) -> list[SetRow]:
        with self.record.database.read() as connection:
            query = effective_sets().where(sets.c.id.in_(set_ids)).order_by(sets.c.id)
            return [set_row(row) for row in connection.execute(query)]


def set_detail_of(record: Record, set_id: str) -> SetDetail:
    """The set as the record has it now.

    Raises:
        ReviewRefused: it is no longer there.
    """
    with record.database.read() as connection:
        detail = set_detail(connection, set_id)
    if detail is None:
        raise ReviewRefused("This set is no longer in the record.")
    return detail


def measurement_name(found: Sequence[NewRep]) -> str:
    """The engine's version and what it found, short: the same figures have the same name at every desk."""
    figures = ";".join(f"{rep.start_time_s:.3f} {rep.mean_velocity_m_s or 0.0:.4f}" for rep in found)
    return f"{__version__}+{hashlib.sha256(figures.encode()).hexdigest()[:8]}"


def _count(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"
