"""How fast the engine is (run with --benchmark-only; nothing is asserted about time)."""

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from drivers.samples import TimedBlock
from simulated_sensor.lifts import PlannedSet
from simulated_sensor.sessions import make_session_trace
from station.motion.engine import MotionEngine
from station.squad.lifts import LIFTS
from tests.motion.streams import as_block, in_blocks, run
from tests.validation.textbook import textbook_reps


@pytest.fixture(scope="module")
def session() -> TimedBlock:
    plan = PlannedSet("back squat", (0.7, 0.65, 0.6, 0.55, 0.5), 0.6)
    return as_block(make_session_trace([plan, plan], seed=1, rest_between_s=60.0))


def test_streaming_engine(benchmark: BenchmarkFixture, session: TimedBlock) -> None:
    blocks = in_blocks(session, 400)
    benchmark.extra_info["recorded_s"] = float(session.time_s[-1])
    benchmark(lambda: run(MotionEngine("bar", LIFTS["back squat"]), blocks))
    benchmark.extra_info["times_real_time"] = float(session.time_s[-1]) / benchmark.stats.stats.median


def test_textbook_method(benchmark: BenchmarkFixture, session: TimedBlock) -> None:
    benchmark(lambda: textbook_reps(session))
    benchmark.extra_info["times_real_time"] = float(session.time_s[-1]) / benchmark.stats.stats.median
