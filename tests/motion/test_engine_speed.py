"""How fast the engine is (run with --benchmark-only; nothing is asserted about time).

CPU time of one core: in blocks as files are read, and in packets as a radio brings them; while a set is under way,
while the bar lies in the rack, and of an exercise as it is trained, where it lies most of the time. Each beside the
textbook method, which has the whole recording at once.
"""

import time
from dataclasses import dataclass
from statistics import median

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from drivers.samples import TimedBlock
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from station.motion.engine import MotionEngine
from station.motion.events import MotionEvent
from station.squad.lifts import LIFTS
from tests.motion.streams import as_block, in_blocks, reps_of, run
from tests.validation.textbook import textbook_reps

REPS = 5
ROUNDS = 5
PACKETS = pytest.mark.parametrize("samples", [400, 40, 10], ids="in_{}s".format)
pytestmark = pytest.mark.benchmark(timer=time.process_time)


@dataclass(frozen=True, eq=False)
class Session:
    """Two sets with a minute between them, and what the textbook method takes for it."""

    samples: TimedBlock
    rep_times_s: list[tuple[float, float]]
    textbook_share: float
    """CPU time by recorded time."""

    def part(self, start_s: float, end_s: float) -> TimedBlock:
        """The samples between two times."""
        first, stop = self.samples.time_s.searchsorted([start_s, end_s]).tolist()
        return self.samples.slice(first, stop)

    @property
    def set_under_way(self) -> tuple[float, float]:
        """From the unracking of the first set to its racking, s."""
        return self.rep_times_s[0][0] - 3.0, self.rep_times_s[REPS - 1][1] + 3.0

    @property
    def bar_lies(self) -> tuple[float, float]:
        """The rest between the two sets, s."""
        return self.rep_times_s[REPS - 1][1] + 10.0, self.rep_times_s[REPS][0] - 10.0


@pytest.fixture(scope="module")
def session() -> Session:
    return sets_with_rests(2, 60.0)


@pytest.fixture(scope="module")
def exercise() -> Session:
    """Five sets with rests of two and a half minutes (common practice, no source)."""
    return sets_with_rests(5, 150.0)


def sets_with_rests(count: int, rest_s: float) -> Session:
    plan = PlannedSet("back squat", (0.7, 0.65, 0.6, 0.55, 0.5), 0.6)
    trace = make_session_trace([plan] * count, seed=1, rest_between_s=rest_s)
    samples = as_block(trace)
    taken = []
    for _ in range(ROUNDS):
        begun = time.process_time()
        textbook_reps(samples)
        taken.append(time.process_time() - begun)
    times = [(rep.start_time_s, rep.end_time_s) for rep in trace.truth]
    return Session(samples, times, median(taken) / float(samples.time_s[-1]))


def new_engine() -> MotionEngine:
    return MotionEngine("bar", LIFTS["back squat"])


def measured(
    benchmark: BenchmarkFixture, session: Session, part: tuple[float, float], samples: int
) -> list[MotionEvent]:
    """The events of a part of a session in packets of so many samples, by an engine that knows what went before."""
    blocks = in_blocks(session.part(*part), samples)

    def ready() -> tuple[tuple[MotionEngine], dict[str, object]]:
        engine = new_engine()
        for block in in_blocks(session.part(0.0, part[0]), 400):
            engine.feed(block)
        return (engine,), {}

    events: list[MotionEvent] = benchmark.pedantic(  # type: ignore[no-untyped-call]
        lambda engine: [event for block in blocks for event in engine.feed(block)], setup=ready, rounds=ROUNDS
    )
    return events


def say(
    benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str], of_s: float, session: Session
) -> None:
    """Print how many times faster than real time it went: pytest-benchmark's table has no place for it."""
    took_s = benchmark.stats.stats.median
    ratio = took_s / of_s / session.textbook_share
    benchmark.extra_info.update(times_real_time=of_s / took_s, by_textbook=ratio)
    with capsys.disabled():
        print(
            f"\n{benchmark.name}: {of_s / took_s:.0f} times real time, {100 * took_s / of_s:.2f} % of a core a "
            f"sensor, {ratio:.1f} times the textbook method's time"
        )


def whole(
    benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str], session: Session, samples: int
) -> list[MotionEvent]:
    """The events of a whole session in packets of so many samples; how long it took is said."""
    blocks = in_blocks(session.samples, samples)
    events: list[MotionEvent] = benchmark.pedantic(  # type: ignore[no-untyped-call]
        lambda engine: run(engine, blocks), setup=lambda: ((new_engine(),), {}), rounds=ROUNDS
    )
    say(benchmark, capsys, float(session.samples.time_s[-1]), session)
    return events


@PACKETS
def test_whole_session(
    benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str], session: Session, samples: int
) -> None:
    assert len(reps_of(whole(benchmark, capsys, session, samples))) == 2 * REPS


@PACKETS
def test_set_under_way(
    benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str], session: Session, samples: int
) -> None:
    start, end = session.set_under_way
    events = measured(benchmark, session, (start, end), samples)
    say(benchmark, capsys, end - start, session)
    assert len(reps_of(events)) == REPS


@PACKETS
def test_bar_lies(
    benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str], session: Session, samples: int
) -> None:
    start, end = session.bar_lies
    events = measured(benchmark, session, (start, end), samples)
    say(benchmark, capsys, end - start, session)
    assert events == []


@PACKETS
def test_exercise(
    benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str], exercise: Session, samples: int
) -> None:
    assert len(reps_of(whole(benchmark, capsys, exercise, samples))) == 5 * REPS


def test_textbook_method(
    benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str], session: Session
) -> None:
    benchmark.pedantic(  # type: ignore[no-untyped-call]
        lambda: textbook_reps(session.samples), rounds=ROUNDS
    )
    say(benchmark, capsys, float(session.samples.time_s[-1]), session)
