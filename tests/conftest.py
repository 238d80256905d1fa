"""For every test: no thread outlives the run. One that did would keep the process, and all who wait for it.

With `-n` each worker looks at its own threads and tells the process that started it. Files that wait in real time
begin first, several at once, so that the rest computes while they wait. The shared PostgreSQL is started by the
first test that asks for it, one in each worker.
"""

from __future__ import annotations

import faulthandler
import gc
import os
import sys
import threading
from collections.abc import Generator
from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.shared_postgres import postgres, prepared, shared

__all__ = ["postgres", "prepared", "shared"]

ENDS_WITHIN_S = 20.0
GIVE_UP_AFTER_S = 120.0
MOST_WORKERS = 8  # each imports everything again
# Most waiting first; a worker takes two files at a time, so the longest of them must not be its last.
REAL_TIME = """
    end_to_end/test_recording_over_radio.py radio/test_torture.py end_to_end/test_station.py torture/ radio/
    end_to_end/
""".split()
LEFT = "threads left over"


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Two to a core for `-n auto`: two thirds of the run's time is waiting."""
    return min(2 * (os.cpu_count() or 1), MOST_WORKERS)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The files that wait in real time come first, each file's tests in their own order."""
    items.sort(key=_turn)


def _turn(item: pytest.Item) -> int:
    path = item.path.as_posix()
    return next((n for n, part in enumerate(REAL_TIME) if f"tests/{part}" in path), len(REAL_TIME))


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """A thread left over fails the run by name; should the process not end all the same, it says where and ends."""
    left = _threads_left()
    if hasattr(session.config, "workeroutput"):
        session.config.workeroutput[LEFT] = (
            left  # a worker stays until the last one is done; it is ended then
        )
        return
    _fail(session, left + session.config.stash.get(_left_in_workers, []))
    faulthandler.dump_traceback_later(GIVE_UP_AFTER_S, exit=True, file=sys.__stderr__)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """From the first test with a screen on no other thread collects garbage, as in a program with screens."""
    if gc.isenabled() and {"qapp", "qtbot"} & set(getattr(item, "fixturenames", ())):
        gc.disable()


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown() -> None:
    """What the collection of a program with screens does between its events is done between tests."""
    if gc.isenabled():
        return
    from station.screens.garbage import due  # the core's tests know no Qt

    generation = due(gc.get_count(), gc.get_threshold())
    if generation is not None:
        gc.collect(generation)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """A test that stands still outside Python, where its own limit does not reach, ends all with every stack."""
    own = item.get_closest_marker("timeout")
    limit_s = float(own.args[0] if own is not None and own.args else item.config.getini("timeout") or 0.0)
    faulthandler.dump_traceback_later(limit_s + GIVE_UP_AFTER_S, exit=True, file=sys.__stderr__)
    try:
        return (yield)
    finally:
        faulthandler.cancel_dump_traceback_later()


_left_in_workers = pytest.StashKey[list[str]]()


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: object) -> None:
    """What a worker told at its end, kept for the end of the run; one that fell has failed its test already."""
    config = node.config  # type: ignore[attr-defined]
    told: list[str] = getattr(node, "workeroutput", {}).get(LEFT, [])
    config.stash.setdefault(_left_in_workers, []).extend(told)


def _threads_left() -> list[str]:
    """Names of the threads that should have ended, each after a while of waiting for it."""
    for one in gc.get_objects():
        if issubclass(type(one), ThreadPoolExecutor):
            one.shutdown(wait=False)  # what the interpreter does at its end
    left = []
    for one in set(threading.enumerate()) - {threading.current_thread(), threading.main_thread()}:
        if one.daemon:
            continue
        one.join(ENDS_WITHIN_S)
        if one.is_alive():
            left.append(one.name)
    return left


def _fail(session: pytest.Session, left: list[str]) -> None:
    for name in left:
        print(f"\na thread outlives the tests: {name}", file=sys.__stderr__)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
