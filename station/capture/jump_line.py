"""The jump line: every jump of every belt into the record, then to the screen; the line moves on by itself.

Lives in the capture worker's thread alone, as a rack does. A jump that could not be made durable waits and is tried
again, and is not painted before it is on the disk.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from drivers.samples import SampleBlock
from station.capture.belt import Belt, BeltMeasurement
from station.capture.jump_history import JumpHistory
from station.capture.jump_queue import TRIALS, JumpQueue
from station.capture.jump_raw import RawOfJumps
from station.capture.jump_roster import JumpRoster
from station.capture.jump_trial import trial_of
from station.capture.jump_view import JumperTile, JumpLineView, Turn
from station.capture.link_news import LinkNews
from station.capture.rack_view import LiveTrace, TroubleLine
from station.motion.events import JumpMeasured, MotionEvent, Trouble
from station.squad.jumps import JumpTrial, mean_and_best
from station.store import jumps
from station.store.errors import WriteFailed
from station.store.record import Record

Show = Callable[[JumpLineView | LiveTrace], None]


@dataclass(frozen=True, slots=True)
class _Measured:
    """A jump that is not in the record yet."""

    belt: int
    jump: JumpMeasured
    samples: SampleBlock | None


class JumpLine:
    """One jump line.

    Args:
        record: where jumps are kept.
        belts: how many sensors go along the line in turn.
        show: takes each new picture.
        today: the local day.
    """

    def __init__(
        self, record: Record, belts: int, show: Show, today: Callable[[], date], data_note: str = ""
    ) -> None:
        self.record, self._show, self._today, self._data_note = record, show, today, data_note
        self.belts = [Belt(BeltMeasurement()) for _ in range(belts)]
        self.troubles: dict[str, TroubleLine] = {}
        self._athletes = JumpRoster(record, today)
        self._waiting: deque[_Measured] = deque()
        self._raw = RawOfJumps(record.database.folder)
        self._undo: list[Callable[[], None]] = []
        self._history = JumpHistory(record, today())
        self.trials: dict[str, list[JumpTrial]] = defaultdict(list)
        self._quiet_since_s: float | None = None
        self._shown: str | None = None
        self._read_today()
        first = [a for a in self._athletes.line if self._valid().get(a, 0) < TRIALS]
        self.queue = JumpQueue.of(first, belts)
        self.publish()

    def _read_today(self) -> None:
        """Trials of today that are in the record: after a restart the line goes on where it was."""
        with self.record.database.read() as connection:
            for trial in jumps.trials_since(connection, self._today()):
                if trial.athlete_id is not None:
                    self.trials[trial.athlete_id].append(trial)

    # -- what the belts do -----------------------------------------------------------------------------------------

    def samples(self, block: SampleBlock) -> None:
        """Samples of the only belt."""
        self.belt_samples(0, block)

    def link(self, news: LinkNews) -> None:
        """News of the only belt's link."""
        self.belt_link(0, news)

    def belt_samples(self, belt: int, block: SampleBlock) -> None:
        """Samples of one belt."""
        self.belts[belt].latest.add(block)
        self._handle(belt, self.belts[belt].measurement.feed(block))

    def belt_link(self, belt: int, news: LinkNews) -> None:
        """News of one belt's link."""
        self.belts[belt].hear(news, self.record.database.folder.parent)
        for kind, trouble in (("link", news.trouble), ("book", news.book), ("quality", news.quality)):
            self.troubles.pop(f"{kind} {belt}", None)
            if trouble is not None:
                self.troubles[f"{kind} {belt}"] = trouble
        self.publish()

    def tick(self, host_now_s: float) -> None:
        """Time passes: silence, jumps that wait for the disk, a turn that is over."""
        for number, belt in enumerate(self.belts):
            self._handle(number, belt.measurement.advance(host_now_s))
        if self._quiet_since_s is None:
            self._quiet_since_s = host_now_s
        if self._athletes.changed(host_now_s):
            self.queue = self.queue.with_line(self._athletes.line)
            self.publish()
        after = self.queue.quiet(host_now_s - self._quiet_since_s, self._valid())
        if after != self.queue:
            self.queue, self._quiet_since_s = after, host_now_s
            self.publish()

    def close(self) -> None:
        """The line closes: a jump that has landed is decided with what there is."""
        for number, belt in enumerate(self.belts):
            self._handle(number, belt.measurement.engine.finish())

    def _handle(self, belt: int, events: Sequence[MotionEvent]) -> None:
        said = False
        for event in events:
            if isinstance(event, JumpMeasured):
                self._waiting.append(_Measured(belt, event, self.belts[belt].latest.held()))
            elif isinstance(event, Trouble):
                words = f"Belt {belt + 1}: {event.kind.replace('_', ' ')}"
                self.troubles[f"{event.kind} {belt}"] = TroubleLine(event.kind, words, event.advice)
                said = True
        if not self._waiting:
            if said:
                self.publish()
            return
        try:
            while self._waiting:
                self._jumped(self._waiting[0])
                self._waiting.popleft()
            self.troubles.pop("disk", None)
        except WriteFailed as error:
            self.troubles["disk"] = TroubleLine(
                "disk", str(error), "Free disk space; jumps wait meanwhile.", True
            )
        self.publish()

    def _jumped(self, measured: _Measured) -> None:
        belt, jump = measured.belt, measured.jump
        athlete_id = self.queue.belts[belt]
        kept = jumps.add_jump(
            self.record,
            trial_of(jump, athlete_id, self._today()),
            jump.flight_time_s,
            self.belts[belt].source(),
            name_confirmed=False,
            keep_raw=lambda jump_id: self._raw.keep(jump_id, measured.samples),
        )
        self._say_raw()
        self._quiet_since_s = None
        stay = (f"link {belt}", f"book {belt}")
        for kind in [kind for kind in self.troubles if kind.endswith(f" {belt}") and kind not in stay]:
            self.troubles.pop(kind)
        if athlete_id is not None:
            self.trials[athlete_id].append(kept)
        self._shown = athlete_id
        self.queue = self.queue.jumped(belt, self._valid())

    def _say_raw(self) -> None:
        self.troubles.pop("raw", None)
        if self._raw.failure:
            words = f"Raw samples of the last jump are not kept ({self._raw.failure})."
            self.troubles["raw"] = TroubleLine("raw", words, "The jump is; free disk space.")

    def _valid(self) -> dict[str, int]:
        return {a: sum(t.valid for t in own) for a, own in self.trials.items()}

    # -- what people do --------------------------------------------------------------------------------------------

    def jumps_now(self, athlete_id: str) -> None:
        """This athlete wears the belt that is up."""
        if athlete_id in self._athletes:
            self._move(self.queue.wears(athlete_id), athlete_id)

    def later(self) -> None:
        """The athlete who is up goes to the end of the line."""
        self._move(self.queue.later(), None)

    def strike_last(self) -> None:
        """The last trial of the athlete shown does not count."""
        athlete_id = self._current_id()
        own = self.trials[athlete_id] if athlete_id is not None else []
        if not own or not own[-1].valid:
            return
        before = own[-1]
        self._strike(own, before, struck=True)
        self._undo.append(lambda: self._strike(own, before, struck=False))
        self.publish()

    def undo(self) -> None:
        """Take the last of these back."""
        if self._undo:
            self._undo.pop()()
            self.publish()

    def _strike(self, own: list[JumpTrial], trial: JumpTrial, *, struck: bool) -> None:
        self.record.correct(trial.trial_id, "struck", struck, None, "at the jump line")
        at = next(n for n, one in enumerate(own) if one.trial_id == trial.trial_id)
        own[at] = replace(trial, valid=False, why="struck out") if struck else trial

    def _move(self, queue: JumpQueue, shown: str | None) -> None:
        before, before_shown = self.queue, self._shown

        def back() -> None:
            self.queue, self._shown = before, before_shown

        self._undo.append(back)
        self.queue, self._shown = queue, shown
        self.publish()

    # -- the picture -----------------------------------------------------------------------------------------------

    def _current_id(self) -> str | None:
        """Whose jump was measured last; before any, who is up."""
        return self._shown if self._shown is not None else self.queue.belts[self.queue.up]

    def publish(self) -> None:
        """Show how things stand."""
        current = self._current_id()
        own = tuple(self.trials[current]) if current is not None else ()
        heights = mean_and_best(own)
        usual, kind = self._history.usual(current) if current is not None else (None, "")
        self._show(
            JumpLineView(
                tuple(self._tile(key) for key in self._order()),
                self._tile(current) if current is not None else None,
                own,
                TRIALS,
                heights[0] if heights else None,
                heights[1] if heights else None,
                usual,
                kind,
                own[-1].why if own and not own[-1].valid else "",
                tuple(belt.sensor for belt in self.belts),
                tuple(self.troubles.values()),
                self._history.proposed,
                self._data_note,
            )
        )

    def _order(self) -> list[str]:
        worn = [a for a in self.queue.belts if a is not None]
        up = self.queue.belts[self.queue.up]
        first = [up] if up is not None else []
        return [*first, *(a for a in worn if a != up), *self.queue.waiting, *self.queue.done]

    def _tile(self, athlete_id: str) -> JumperTile:
        athlete, belts = self._athletes[athlete_id], self.queue.belts
        belt = belts.index(athlete_id) if athlete_id in belts else None
        if belt is not None:
            turn = Turn.JUMPING if belt == self.queue.up else Turn.WEARING
        else:
            turn = Turn.DONE if athlete_id in self.queue.done else Turn.WAITING
        heights = mean_and_best(self.trials[athlete_id])
        return JumperTile(
            athlete_id,
            athlete.name,
            athlete.shirt_number,
            turn,
            belt + 1 if belt is not None else None,
            heights[0] if heights else None,
        )
