"""The room at the desk: how every rack stands, what waits for a decision, and the decision taken from here.

What is decided is a record like one made at the rack, with the name of whoever decided; the rack takes it over.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select

from station.capture.desk_sign_in import DeskSignIn
from station.capture.rack_view import Decision
from station.capture.room_board import RoomBoard
from station.capture.session_decisions import TAKEN_BACK
from station.squad.room import RackReport, SpareSensor, WaitingSuggestion
from station.store.nearby import SQUAD_TABLES, signature, take_over
from station.store.rack_states import hear_machine, newest
from station.store.record import Record
from station.store.tables import athletes
from station.store.unwell_nearby import OpenUnwell

MISSED_AFTER_S = 10.0
# What the room needs of the other records of its machine: names, who may sign in, and the sets it decides about.
ROOM_TABLES = (*SQUAD_TABLES, "staff_pins", "sets", "decisions")


@dataclass(frozen=True, slots=True)
class RoomLine:
    """One rack as the desk sees it.

    Attributes:
        name: of whose turn it is; "": nobody is named. names: of those whose suggestions wait.
        age_s, heard_at: how long ago it was heard.
    """

    report: RackReport
    name: str
    names: tuple[str, ...]
    age_s: float
    heard_at: datetime

    @property
    def missed(self) -> bool:
        """Not heard for more than ten seconds, though nobody closed it."""
        return not self.report.closed and self.age_s > MISSED_AFTER_S

    @property
    def here(self) -> bool:
        """Running, as far as anybody knows."""
        return not self.report.closed and not self.missed


@dataclass(frozen=True, slots=True)
class RoomView:
    """All racks, the sensors that belong to none, whether anybody has begun to lift, and open pain or illness."""

    lines: tuple[RoomLine, ...]
    spares: tuple[SpareSensor, ...]
    begun: bool
    unwell: int = 0


@dataclass(frozen=True, slots=True)
class _Decided:
    rack: str
    about: WaitingSuggestion
    words: str


class RoomDesk:
    """Reads how racks stand and writes decisions.

    Args:
        record: the room's own.
        now: local date and time, with zone.
        board: what the shared database tells; None: this machine alone.
    """

    def __init__(self, record: Record, now: Callable[[], datetime], board: RoomBoard | None = None) -> None:
        self.record, self._now, self._board = record, now, board
        self.sign_in = DeskSignIn(record, now)
        self._unwell = OpenUnwell(record)
        self._seen: tuple[object, ...] = ()
        self._last: _Decided | None = None
        self._names: dict[str, str] = {}

    # -- reading -------------------------------------------------------------------------------------------------

    def view(self) -> RoomView:
        """The room as it is now."""
        root = self.record.database.folder.parent
        heard = hear_machine(root, self._now()) + (self._board.heard() if self._board is not None else [])
        found = newest(heard)
        self._know([one.report for one in found])
        lines = tuple(
            RoomLine(
                one.report,
                self._names.get(one.report.athlete_id or "", ""),
                tuple(self._names.get(w.athlete_id, "no name") for w in one.report.waiting),
                one.age_s,
                one.at,
            )
            for one in found
        )
        spares = {spare.name: spare for line in lines if line.here for spare in line.report.spares}
        begun = any(line.here and line.report.set_kind for line in lines)
        return RoomView(lines, tuple(spares.values()), begun, self._unwell.count(self._now()))

    def staff(self) -> list[str]:
        """Who may sign in."""
        self._take_over()
        return self.record.staff_names()

    @property
    def today(self) -> date:
        """The local day."""
        return self._now().date()

    def _know(self, reports: list[RackReport]) -> None:
        """Names of all that are told; the record is asked again only for a new one."""
        ids = {r.athlete_id for r in reports if r.athlete_id} | {
            w.athlete_id for r in reports for w in r.waiting
        }
        if ids <= self._names.keys():
            return
        self._take_over()
        with self.record.database.read() as connection:
            born = connection.execute(select(athletes.c.id, athletes.c.name)).all()
        self._names = {row.id: row.name for row in born}
        self._names |= {a.athlete_id: a.name for a in self.record.athletes(self.today)}
        self._names |= {one: "" for one in ids if one not in self._names}  # erased, or not here yet

    def forget_names(self) -> None:
        """Ask for names anew: the roster may have changed, or somebody was erased."""
        self._names = {}

    def _take_over(self) -> None:
        seen = signature(self.record.database.folder)
        if seen != self._seen:
            take_over(self.record, ROOM_TABLES)
            self._seen = signature(self.record.database.folder)

    # -- deciding ------------------------------------------------------------------------------------------------

    def decide(self, line: RoomLine, decision: Decision, load_kg: float | None = None) -> str:
        """Decide about the suggestion of a rack that has waited longest; what was done, as a sentence.

        Args:
            load_kg: with CHANGE.
        """
        self.sign_in.touched()
        if self.sign_in.staff is None:
            return "Sign in first: a decision bears a name."
        if not line.report.waiting:
            return f"Nothing waits at {line.report.rack}."
        about = line.report.waiting[0]
        if decision is Decision.CHANGE and load_kg is None:
            return "Type the load, then Change."
        self._take_over()
        if not self.record.has_set(about.set_id):
            return f"The set at {line.report.rack} has not come here yet; try again in a moment."
        chosen = {Decision.USE: about.load_kg, Decision.CHANGE: load_kg}.get(decision, about.planned_kg)
        self._write(about, decision.value, chosen)
        words = f"{line.names[0]}, {line.report.rack}: {decision.value}"
        self._last = _Decided(line.report.rack, about, words)
        return f"{words}{f', {chosen:g} kg' if chosen is not None else ''}. The rack takes it over."

    def undo(self) -> str:
        """Take the last decision made here back; what was done, as a sentence."""
        last, self._last = self._last, None
        if last is None:
            return "Nothing to undo."
        self._write(last.about, TAKEN_BACK, None)
        return f"Taken back: {last.words}."

    @property
    def can_undo(self) -> bool:
        """Whether a decision made here can be taken back."""
        return self._last is not None

    def _write(self, about: WaitingSuggestion, decision: str, load_kg: float | None) -> None:
        row = {
            "set_id": about.set_id,
            "suggested_load_kg": about.load_kg,
            "planned_load_kg": about.planned_kg,
            "sentence": about.sentence if decision != TAKEN_BACK else "",
            "decision": decision,
            "load_kg": load_kg,
            "staff": self.sign_in.staff,
        }
        self.record.add_rows("decisions", [row])
