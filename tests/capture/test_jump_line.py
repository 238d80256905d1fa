"""The jump line: it moves on by itself, says why a trial does not count, and keeps every jump before it shows it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from drivers.samples import SampleBlock
from simulated_sensor.jump_path import PlannedJump
from simulated_sensor.jumps import make_jump_trace
from simulated_sensor.trace import SensorTrace
from station.capture.jump_line import JumpLine
from station.capture.jump_queue import JumpQueue
from station.capture.jump_roster import LOOK_EVERY_S
from station.capture.jump_trial import WHY_NOT, why_not
from station.capture.jump_view import JumpLineView, Turn
from station.capture.link_news import LinkNews
from station.capture.rack_view import LiveTrace, SensorLine, TroubleLine
from station.squad.athletes import Athlete, TrainingStatus
from station.store import jumps
from station.store.errors import WriteFailed
from station.store.record import Record

DAY = date(2026, 10, 14)
NAMES = ("Aino Amsel", "Bela Birkholz", "Ciro Carstam", "Dagny Dunkelau")


def opened(folder: Path) -> Record:
    return Record(folder, "jump line", lambda: datetime(2026, 10, 14, 6, 30, tzinfo=UTC))


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = opened(tmp_path / "line")
    made.add_athletes([Athlete(name[0].lower(), name, n + 1, "rack 1") for n, name in enumerate(NAMES)])
    made.add_athletes([Athlete("out", "Edda Elmgren", 9, "rack 1", TrainingStatus.OUT)])
    made.add_rows("matches", [{"day": DAY - timedelta(days=2)}])
    yield made
    made.close()


class Shown:
    """Collects the pictures."""

    def __init__(self) -> None:
        self.views: list[JumpLineView] = []

    def __call__(self, item: JumpLineView | LiveTrace) -> None:
        assert isinstance(item, JumpLineView)
        self.views.append(item)

    @property
    def last(self) -> JumpLineView:
        return self.views[-1]


def line_of(record: Record, belts: int = 1) -> tuple[JumpLine, Shown]:
    shown = Shown()
    return JumpLine(record, belts, shown, lambda: DAY), shown


def trace_of(*heights_m: float, seed: int = 4) -> SensorTrace:
    return make_jump_trace([PlannedJump(h, 0.3) for h in heights_m], seed=seed)[0]


def blocks(trace: SensorTrace, first_seq: int = 0, size: int = 20) -> list[SampleBlock]:
    counter = np.arange(len(trace)) + first_seq
    at = counter / trace.rate_hz
    whole = SampleBlock(counter, at, trace.acc_m_s2, trace.gyr_rad_s)
    return [whole.slice(n, n + size) for n in range(0, len(trace), size)]


def feed(line: JumpLine, trace: SensorTrace, belt: int = 0, first_seq: int = 0) -> int:
    for block in blocks(trace, first_seq):
        line.belt_samples(belt, block)
    return first_seq + len(trace)


def turns(view: JumpLineView) -> dict[str, Turn]:
    return {tile.athlete_id: tile.turn for tile in view.queue}


def test_three_jumps_make_a_turn_and_the_next_is_up_without_a_touch(record: Record) -> None:
    line, shown = line_of(record)
    assert [tile.name for tile in shown.last.queue] == list(NAMES)  # who is out does not stand in line
    feed(line, trace_of(0.30, 0.34, 0.32))
    view = shown.last
    assert turns(view) == {"b": Turn.JUMPING, "c": Turn.WAITING, "d": Turn.WAITING, "a": Turn.DONE}
    assert view.current is not None
    assert view.current.athlete_id == "a"  # the number stays until the next jump
    assert [round(t.height_m, 2) for t in view.trials] == pytest.approx([0.30, 0.34, 0.32], abs=0.011)
    assert view.mean_m == pytest.approx(0.32, abs=0.01)
    assert view.best_m == pytest.approx(0.34, abs=0.011)
    feed(line, trace_of(0.40, seed=5))  # the next belt: another sensor counts from the beginning
    assert shown.last.current is not None
    assert shown.last.current.athlete_id == "b"


def test_the_program_adds_less_than_three_seconds_between_athletes(record: Record) -> None:
    """From the landing of a turn's last jump until the next athlete is up, in samples of the belt."""
    line, shown = line_of(record)
    for seed in range(3):
        trace, truth = make_jump_trace([PlannedJump(0.3, 0.3)] * 3, seed=seed)
        up_before = [key for key, turn in turns(shown.last).items() if turn is Turn.JUMPING]
        handed_over_s = None
        for block in blocks(trace, size=4):
            line.belt_samples(0, block)
            up = [key for key, turn in turns(shown.last).items() if turn is Turn.JUMPING]
            if up != up_before and handed_over_s is None:
                handed_over_s = float(block.host_time_s[-1])
        assert handed_over_s is not None
        assert 0.0 < handed_over_s - truth[-1].landing_time_s < 3.0


def test_every_jump_is_in_the_record_before_it_is_shown(record: Record) -> None:
    line, shown = line_of(record)

    def look(item: JumpLineView | LiveTrace) -> None:
        shown(item)
        with record.database.read() as connection:
            kept = jumps.trials_since(connection, DAY)
        assert {t.trial_id for t in shown.last.trials} <= {t.trial_id for t in kept}

    line._show = look
    feed(line, trace_of(0.30, 0.34))
    assert len(shown.last.trials) == 2


def test_two_belts_go_in_turn_and_each_jump_belongs_to_who_wears_it(record: Record) -> None:
    line, shown = line_of(record, belts=2)
    assert turns(shown.last) == {
        "a": Turn.JUMPING,
        "b": Turn.WEARING,
        "c": Turn.WAITING,
        "d": Turn.WAITING,
    }
    feed(line, trace_of(0.30, 0.31), belt=0)
    # The second athlete jumps after two trials of the first: the first is done, that belt goes to the third.
    feed(line, trace_of(0.40, seed=5), belt=1)
    assert turns(shown.last) == {
        "b": Turn.JUMPING,
        "c": Turn.WEARING,
        "d": Turn.WAITING,
        "a": Turn.DONE,
    }
    by_athlete = {tile.athlete_id: tile.mean_m for tile in shown.last.queue}
    assert by_athlete["a"] == pytest.approx(0.305, abs=0.011)
    assert by_athlete["b"] == pytest.approx(0.40, abs=0.011)


def test_after_two_jumps_and_half_a_minute_the_next_is_up(record: Record) -> None:
    line, shown = line_of(record)
    feed(line, trace_of(0.30, 0.31))
    line.tick(1000.0)
    line.tick(1010.0)
    assert turns(shown.last)["a"] is Turn.JUMPING
    line.tick(1026.0)
    assert turns(shown.last)["a"] is Turn.DONE


def test_a_trial_that_does_not_count_is_said_with_the_reason_and_jumped_again(record: Record) -> None:
    line, shown = line_of(record)
    trace, _ = make_jump_trace([PlannedJump(0.35, landing_above_m=0.15), PlannedJump(0.35)], seed=2)
    halves = blocks(trace)
    whys = []
    for block in halves:
        line.belt_samples(0, block)
        whys.append(shown.last.again)
    assert "land where you took off: landed early" in whys
    assert [t.valid for t in shown.last.trials] == [False, True]
    assert turns(shown.last)["a"] is Turn.JUMPING
    assert shown.last.mean_m == pytest.approx(0.35, abs=0.015)


def test_every_reason_is_a_sentence_to_the_athlete_and_an_unflagged_jump_counts() -> None:
    assert why_not(()) == ""
    assert why_not(("clipped",)) == ""  # a clipped landing alone does not spoil a trial
    assert len({words for _, words in WHY_NOT}) == len(WHY_NOT)


def test_the_usual_range_is_that_of_days_like_today(record: Record) -> None:
    matches = [DAY - timedelta(days=2 + 7 * n) for n in range(8)]
    record.add_rows("matches", [{"day": day} for day in matches[1:]])
    rows = [
        {"athlete_id": "a", "name_confirmed": True, "day": match + timedelta(days=ago), "height_m": height}
        | {"from_flight_m": height, "from_impulse_m": height, "flight_time_s": 0.5, "flags": []}
        | {"valid": True, "engine_version": "test"}
        for n, match in enumerate(matches[1:])
        for ago, height in ((2, 0.30 + 0.01 * (n % 2)), (3, 0.36))
    ]
    record.add_rows("jumps", rows)
    line, shown = line_of(record)
    assert shown.last.day_kind == "MD+2"
    assert shown.last.proposed_today
    usual = shown.last.usual
    assert usual is not None
    assert (usual.days, usual.mid_m) == (7, pytest.approx(0.304, abs=0.002))
    feed(line, trace_of(0.25, 0.25))
    assert shown.last.verdict == "lower than usual"
    line.jumps_now("b")
    assert shown.last.verdict == ""


def test_too_little_history_is_an_answer(record: Record) -> None:
    line, shown = line_of(record)
    feed(line, trace_of(0.30))
    assert shown.last.verdict == "too little history: 0 like today"


def test_people_change_the_line_and_take_it_back(record: Record) -> None:
    line, shown = line_of(record)
    line.jumps_now("c")
    assert turns(shown.last) == {
        "c": Turn.JUMPING,
        "a": Turn.WAITING,
        "b": Turn.WAITING,
        "d": Turn.WAITING,
    }
    line.undo()
    assert turns(shown.last)["a"] is Turn.JUMPING
    line.later()
    assert [tile.athlete_id for tile in shown.last.queue] == ["b", "c", "d", "a"]


def test_a_struck_trial_no_longer_counts_and_can_be_put_back(record: Record) -> None:
    line, shown = line_of(record)
    feed(line, trace_of(0.30, 0.40))
    line.strike_last()
    assert shown.last.mean_m == pytest.approx(0.30, abs=0.011)
    with record.database.read() as connection:
        assert [t.valid for t in jumps.trials_since(connection, DAY)] == [True, False]
    line.undo()
    assert shown.last.mean_m == pytest.approx(0.35, abs=0.011)


def test_after_a_restart_the_line_goes_on_where_it_was(record: Record) -> None:
    line, _ = line_of(record)
    feed(line, trace_of(0.30, 0.34, 0.32))
    again, shown = line_of(record)
    assert turns(shown.last)["b"] is Turn.JUMPING
    assert "a" not in turns(shown.last)
    again.close()


def test_a_disk_that_refuses_is_said_and_the_jump_waits(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    line, shown = line_of(record)
    real = jumps.add_jump

    def refuse(*_args: object, **_kw: object) -> None:
        raise WriteFailed("the jump", "database or disk is full")

    monkeypatch.setattr(jumps, "add_jump", refuse)
    feed(line, trace_of(0.30))
    assert shown.last.troubles[0].kind == "disk"
    assert shown.last.trials == ()
    monkeypatch.setattr(jumps, "add_jump", real)
    line._handle(0, [])
    assert shown.last.troubles == ()
    assert len(shown.last.trials) == 1


def test_each_belt_says_how_its_link_is(record: Record) -> None:
    line, shown = line_of(record, belts=2)
    line.belt_link(1, LinkNews(SensorLine("Belt 2", "streaming", True, 64)))
    assert [s.name for s in shown.last.sensors] == ["no sensor yet", "Belt 2"]


def test_a_sensor_book_that_cannot_be_written_is_said_until_it_can_be(record: Record) -> None:
    line, shown = line_of(record)
    belt = SensorLine("Belt 1", "streaming", True, 64)
    held = TroubleLine("book", "The sensor book cannot be changed.", "Nothing measured is lost.")
    line.link(LinkNews(belt, book=held))
    feed(line, trace_of(0.30))
    assert held in shown.last.troubles
    line.link(LinkNews(belt))
    assert held not in shown.last.troubles


def walk_of(heights: Sequence[str], belts: int) -> JumpQueue:
    return JumpQueue.of(heights, belts)


def test_a_short_line_leaves_belts_free_and_ends() -> None:
    queue = walk_of(["a"], 2)
    assert queue.belts == ("a", None)
    queue = queue.jumped(0, {"a": 3})
    assert (queue.belts, queue.done, queue.waiting) == ((None, None), ("a",), ())
    assert queue.later() == queue
    assert queue.wears("a").belts == ("a", None)


def test_who_joins_at_the_desk_meanwhile_stands_at_the_end_of_the_line(
    record: Record, tmp_path: Path
) -> None:
    line, shown = line_of(record)
    line.tick(0.0)
    with closing(opened(tmp_path / "desk")) as desk:
        desk.add_athletes([Athlete("n", "Nele Nordhorn", 12, "rack 1")])
    line.tick(LOOK_EVERY_S)
    assert [tile.athlete_id for tile in shown.last.queue] == ["a", "b", "c", "d", "n"]


def test_a_line_that_was_through_goes_on_with_who_comes_late() -> None:
    through = walk_of(["a"], 1).hand_over(0)
    assert through.belts == (None,)
    assert through.with_line(["a", "late"]).belts == ("late",)


def test_who_is_not_in_the_roster_any_more_waits_no_longer_but_keeps_the_belt_on() -> None:
    queue = walk_of(["a", "b", "c"], 1).with_line(["c"])
    assert (queue.belts, queue.waiting) == (("a",), ("c",))
