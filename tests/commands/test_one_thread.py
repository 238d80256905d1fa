"""The program computes small matrices: a numerical library's threads would only wait for one another."""

import os
import subprocess
import sys

import pytest

COUNT = "import os, numpy, scipy.linalg; print(len(os.listdir('/proc/self/task')))"


def threads_after(program: str, **variables: str) -> int:
    """How many threads a process of its own has after this and numpy."""
    mine = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    run = subprocess.run(
        [sys.executable, "-c", f"{program}; {COUNT}"],
        env=mine | variables,
        capture_output=True,
        text=True,
        check=True,
    )
    return int(run.stdout)


@pytest.mark.skipif(sys.platform != "linux", reason="threads are counted in /proc")
def test_numpy_starts_no_threads_in_the_station() -> None:
    without = threads_after("import station.commands.app", OPENBLAS_NUM_THREADS="1")
    if threads_after("import station.commands.app") == without:
        pytest.skip("a machine with one core, or a numpy without threads")
    assert threads_after("import station.__main__") == without
