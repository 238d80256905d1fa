"""`kill -9` at random moments of a running session: what was painted is there, the open set goes on.

Ten times in the ordinary run; `KILLS=500` for five hundred, as `make torture` does, with its figures printed.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
from pathlib import Path

import pytest

KILLS = int(os.environ.get("KILLS", "10"))
SEED = 11


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the killed process is forked")
@pytest.mark.timeout(60 + 5 * KILLS)
def test_every_painted_rep_is_there_and_the_open_set_is_offered(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = [sys.executable, "-m", "tests.torture.kills", str(tmp_path / "data"), str(KILLS), str(SEED)]
    done = subprocess.run(words, stdout=subprocess.PIPE, check=True, text=True)
    figures = json.loads(done.stdout)
    lost = figures["raw_lost_s"] or [0.0]
    with capsys.disabled():
        print(
            f"\n{figures['kills']} kills ({figures['in_the_start']} before the rack stood): {figures['painted']} "
            f"reps painted, all there, of {figures['reps']} in {figures['sets']} sets; {figures['offered']} times an "
            f"open set was offered; its raw samples ended {statistics.median(lost):.2f} s before the kill (median), "
            f"{max(lost):.2f} s at most, of {len(figures['raw_lost_s'])} looked at"
        )
    assert figures["wrong"] == []
    assert figures["kills"] == KILLS
    assert figures["painted"] > KILLS / 2  # it did lift
    assert figures["reps"] >= figures["painted"]
    assert figures["offered"] > KILLS / 10
