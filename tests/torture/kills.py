"""`kill -9` at random moments of a running session, again and again on one record; a program that prints its figures.

The process that is killed is a rack fed with a simulated bar, faster than real time: each tick of its clock is the
stream's. It writes down every rep after it was painted, through a pipe that outlives it. Its parent, which has loaded
everything beforehand and forks it, kills it and looks at the record with SQLite alone.
"""

from __future__ import annotations

import itertools
import json
import os
import random
import signal
import sqlite3
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import asdict, dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import NoReturn

from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from station.capture.measurement import Measurement
from station.capture.rack import Rack
from station.capture.rack_setup import setup_from_record
from station.capture.rack_view import LiveTrace, RackView
from station.capture.raw_keeper import RawKeeper
from station.squad.athletes import Athlete
from station.squad.lifts import LIFTS
from station.store.journal import left_over, read_journal, set_of
from station.store.record import Record
from tests.capture.bench import blocks

LIFT = "back squat"
DAY = date(2026, 10, 14)
SETS = [PlannedSet(LIFT, tuple(0.80 - 0.01 * n for n in range(9)), 0.6, longest_pause_s=0.5)] * 2
TRACES = [make_session_trace(SETS, seed=seed, rest_between_s=35.0) for seed in range(2)]
LONGEST_LIFE_S = 60.0  # of the stream's time, so that a slow machine lifts as much before the kill
ANYWHERE_S = 0.02
IN_THE_START, START_S = 0.15, 0.8
SYNC_S = 1.0
PACKET_S = 0.1


@dataclass
class Figures:
    """What the kills did."""

    kills: int = 0
    painted: int = 0
    reps: int = 0
    sets: int = 0
    offered: int = 0
    in_the_start: int = 0
    raw_lost_s: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


def _live(folder: Path, say: int, number: int) -> NoReturn:
    """The rack's process: goes on until it is killed."""
    told: set[str] = set()

    def write(words: str) -> None:
        os.write(say, f"{words}\n".encode())

    def show(item: RackView | LiveTrace) -> None:
        if isinstance(item, RackView) and item.set is not None:
            for rep in item.set.reps:
                if rep.rep_id not in told:
                    told.add(rep.rep_id)
                    write(f"rep {rep.rep_id}")

    record = Record(folder, "rack 1", lambda: datetime.now(UTC))
    raw = RawKeeper(folder / "raw")
    raw.recover(record)
    rack = Rack(record, setup_from_record(record), Measurement(LIFTS[LIFT]), raw, show, lambda: DAY)
    going_on = rack.state.set
    write(f"open {going_on.set_id if going_on is not None and going_on.is_open else 'none'}")
    for life in itertools.count(number):
        for block in blocks(TRACES[life % len(TRACES)], 1_000_000.0 * number + 1_000.0 * life, packet=20):
            rack.samples(block)
            rack.tick(float(block.host_time_s[-1]))
            write(f"at {block.host_time_s[-1]:.3f}")
    raise AssertionError


class Torturer:
    """Starts, kills and looks."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.folder, self.random = folder, random.Random(seed)
        self.figures, self.painted = Figures(), set[str]()
        self.expected_open: str | None = None
        with closing(Record(folder, "rack 1", lambda: datetime.now(UTC))) as record:
            record.add_athletes(
                [Athlete("a", "Aino Amsel", 7, "rack 1"), Athlete("b", "Bela Birkholz", 8, "rack 1")]
            )

    def round(self) -> None:
        """One life and its end."""
        number = self.figures.kills
        hear, say = os.pipe()
        child = os.fork()
        if not child:
            os.close(hear)
            try:
                _live(self.folder, say, number)
            finally:
                os._exit(3)
        os.close(say)
        in_the_start = self.random.random() < IN_THE_START
        told = self._kill_in_time(child, hear, in_the_start)
        self.figures.kills += 1
        self.figures.in_the_start += not any(line.startswith("open") for line in told)
        self._look(told)

    def _kill_in_time(self, child: int, hear: int, in_the_start: bool) -> list[str]:
        """Kill it at a random moment, and read what it had said by then."""
        os.set_blocking(hear, False)
        heard = b""
        end = time.monotonic() + self.random.uniform(0.0, START_S) if in_the_start else None
        life_s = self.random.uniform(0.0, LONGEST_LIFE_S)
        while end is None or time.monotonic() < end:
            heard += _available(hear)
            if end is None and _lived_s(heard) >= life_s:
                end = time.monotonic() + self.random.uniform(0.0, ANYWHERE_S)
            time.sleep(0.002)
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        if not os.WIFSIGNALED(status):
            self._wrong("the rack ended by itself")
        os.set_blocking(hear, True)
        with os.fdopen(hear, "rb") as rest:
            heard += rest.read()
        # A last line cut off was not finished: nothing was painted by it.
        return heard.decode().split("\n")[:-1]

    def _look(self, told: list[str]) -> None:
        self.painted |= {line[4:] for line in told if line.startswith("rep ")}
        offered = next((line[5:] for line in told if line.startswith("open ")), None)
        if offered is not None and offered != (self.expected_open or "none"):
            self._wrong(f"{offered} was offered for continuation instead of {self.expected_open}")
        self.figures.offered += offered not in (None, "none")
        with closing(sqlite3.connect(self.folder / "record.sqlite")) as record:
            if record.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
                self._wrong("integrity_check")
            if record.execute("PRAGMA foreign_key_check").fetchall():
                self._wrong("foreign_key_check")
            reps = {row[0] for row in record.execute("SELECT id FROM reps")}
            last = "SELECT id, id IN (SELECT set_id FROM set_ends) FROM sets ORDER BY id DESC LIMIT 1"
            newest = record.execute(last).fetchone()
            self.figures.sets = record.execute("SELECT count(*) FROM sets").fetchone()[0]
        if self.painted - reps:
            self._wrong(f"{len(self.painted - reps)} painted reps are gone")
        self.figures.painted, self.figures.reps = len(self.painted), len(reps)
        self.expected_open = newest[0] if newest is not None and not newest[1] else None
        self._look_at_raw(told)

    def _look_at_raw(self, told: list[str]) -> None:
        """The open set's samples reach to a second before the kill."""
        at = [float(line[3:]) for line in told if line.startswith("at ")]
        for journal in left_over(self.folder / "raw"):
            kept = read_journal(journal)
            if set_of(journal) != self.expected_open or not at or kept is None:
                continue
            lost_s = at[-1] - float(kept.host_time_s[-1])
            if (
                kept.host_time_s[-1] > at[0] - PACKET_S
            ):  # this life's, not the one before that was killed in its start
                self.figures.raw_lost_s.append(max(lost_s, 0.0))
                if lost_s > SYNC_S + PACKET_S:
                    self._wrong(f"raw samples end {lost_s:.2f} s before the kill")

    def _wrong(self, words: str) -> None:
        self.figures.wrong.append(f"kill {self.figures.kills}: {words}")


def _lived_s(heard: bytes) -> float:
    """How long the stream has run, s; below 0 before it has."""
    first = heard.find(b"at ")
    last = heard.rfind(b"at ", 0, heard.rfind(b"\n") + 1)
    if first < 0 or last < 0:
        return -1.0
    return float(heard[last + 3 :].split(b"\n")[0]) - float(heard[first + 3 :].split(b"\n")[0])


def _available(hear: int) -> bytes:
    try:
        return os.read(hear, 1 << 20)
    except BlockingIOError:
        return b""


def _rounds(torturer: Torturer, count: int) -> Iterator[int]:
    for n in range(count):
        torturer.round()
        yield n


if __name__ == "__main__":
    torturer = Torturer(Path(sys.argv[1]), seed=int(sys.argv[3]))
    for done in _rounds(torturer, int(sys.argv[2])):
        if done % 50 == 49:
            print(f"{done + 1} kills, {torturer.figures.painted} reps painted", file=sys.stderr, flush=True)
    print(json.dumps(asdict(torturer.figures)))
