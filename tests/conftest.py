"""For every test: no thread outlives the run. One that did would keep the process, and all who wait for it.

The shared PostgreSQL is started by the first test that asks for it.
"""

from __future__ import annotations

import faulthandler
import sys
import threading

import pytest

from tests.shared_postgres import postgres, prepared, shared

__all__ = ["postgres", "prepared", "shared"]

ENDS_WITHIN_S = 20.0
GIVE_UP_AFTER_S = 120.0


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """A thread left over fails the run by name; should the process not end all the same, it says where and ends."""
    for one in set(threading.enumerate()) - {threading.main_thread()}:
        if one.daemon or one.name.startswith("ThreadPoolExecutor"):  # these the interpreter ends by itself
            continue
        one.join(ENDS_WITHIN_S)
        if one.is_alive():
            print(f"\na thread outlives the tests: {one.name}", file=sys.__stderr__)
            session.exitstatus = pytest.ExitCode.TESTS_FAILED
    faulthandler.dump_traceback_later(GIVE_UP_AFTER_S, exit=True, file=sys.__stderr__)
