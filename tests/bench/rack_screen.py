"""How quick the rack is, in real time: packet to paint, pauses of both event loops, start, share of a core.

`make bench` prints it; `python -m tests.bench.rack_screen --seconds 600` for a session of ten minutes. Nothing is
asserted: figures of a machine under other load would fail for no reason of ours.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtWidgets import QApplication
from rich.console import Console
from rich.table import Table

from drivers.samples import SampleBlock
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace
from station.capture.link_news import LinkNews, SensorFacts
from station.capture.measurement import Measurement
from station.capture.rack import Rack
from station.capture.rack_core import Show
from station.capture.rack_setup import setup_from_record
from station.capture.rack_view import LiveTrace, RackView, SensorLine
from station.capture.raw_keeper import RawKeeper
from station.capture.threads import Hear
from station.screens.rack_app import RackApp
from station.screens.rack_window import RackWindow
from station.squad.athletes import Athlete
from station.squad.lifts import LIFTS
from station.store.record import Record
from tests.capture.bench import DAY, LIFT, WARMUP, WORK, blocks, history

PACKET = 10
BEAT_MS = 5
SENSOR = SensorLine("bench sensor", "streaming", streaming=True, battery_percent=80)


@dataclass
class Beats:
    """The longest and the usual delay between two beats of an event loop, s."""

    gaps_s: list[float] = field(default_factory=list)
    last_s: float | None = None

    def beat(self) -> None:
        now = time.perf_counter()
        if self.last_s is not None:
            self.gaps_s.append(now - self.last_s)
        self.last_s = now

    def worst_ms(self) -> float:
        """Beyond the beat itself."""
        return 1000 * max(self.gaps_s, default=0.0) - BEAT_MS


class Glass(QObject):
    """Notes when the number of each rep was on the glass: painted within `show_number`, which flushes."""

    def __init__(self, window: RackWindow) -> None:
        super().__init__()
        self.painted_s: dict[str, float] = {}
        self._paints = 0
        self._show = window.now.show_number
        window.now.show_number = self._note  # type: ignore[method-assign]
        window.now.number.installEventFilter(self)

    def _note(self, view: RackView) -> None:
        before = self._paints
        self._show(view)
        if self._paints > before and view.set is not None:
            now = time.monotonic()
            for rep in view.set.reps:
                self.painted_s.setdefault(rep.rep_id, now)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt names it
        self._paints += event.type() is QEvent.Type.Paint
        return False


class PlayedSensor:
    """A sensor that streams a trace in real time; knows when each packet arrived."""

    def __init__(self, trace: SensorTrace) -> None:
        self.trace = trace
        self.arrived_s: list[float] = []
        self.beats = Beats()

    async def stream(self, hear: Hear) -> None:
        hear(LinkNews(SENSOR, facts=SensorFacts(200.0, 156.9)))
        beat = asyncio.create_task(self._beat())
        start = time.monotonic()
        for number, block in enumerate(blocks(self.trace, 0.0, PACKET)):
            due = start + (number + 1) * PACKET / self.trace.rate_hz
            await asyncio.sleep(max(0.0, due - time.monotonic()))
            now = time.monotonic()
            self.arrived_s.append(now)
            hear(SampleBlock(block.seq, np.full(len(block.seq), now), block.acc_m_s2, block.gyr_rad_s))
        await asyncio.sleep(0.5)
        beat.cancel()

    async def _beat(self) -> None:
        while True:
            self.beats.beat()
            await asyncio.sleep(BEAT_MS / 1000)


def bench_record(folder: Path) -> Record:
    """A record on the disk with one athlete's history."""
    record = Record(folder, "rack 1", lambda: datetime.now(UTC))
    record.add_athletes([Athlete("a", "Aino", 7, "rack 1")])
    plan = {"athlete_id": "a", "lift": LIFT, "warmup_load_kg": 60.0, "planned_load_kg": 95.0}
    record.add_rows("plans", [plan | {"ceiling_kg": 100.0, "work_sets": 3, "stop_loss": 0.2}])
    history(record, "a", 0.96)
    return record


def make_rack(folder: Path, show: Show) -> Rack:
    record = bench_record(folder)
    raw = RawKeeper(folder / "raw")
    raw.recover(record)
    return Rack(record, setup_from_record(record), Measurement(LIFTS[LIFT]), raw, show, lambda: DAY)


def session(seconds: float) -> dict[str, str]:
    """Packet to paint and pauses, from a session in real time."""
    sets = [WARMUP, *[WORK] * max(1, round(seconds / 22))]
    trace = make_session_trace(sets, seed=5, rest_between_s=6.0)
    sensor, qt_beats = PlayedSensor(trace), Beats()
    decided: dict[str, float] = {}
    with TemporaryDirectory() as folder:
        app = RackApp(lambda show: make_rack(Path(folder), show), sensor.stream)
        with app:
            glass = Glass(app.window)
            timer = QTimer()
            timer.timeout.connect(qt_beats.beat)
            QTimer.singleShot(1500, lambda: timer.start(BEAT_MS))  # the start is another figure
            QTimer.singleShot(int(1000 * (len(trace) / trace.rate_hz + 1.5)), QApplication.quit)
            QApplication.exec()
            timer.stop()
        record = Record(Path(folder), "rack 1", lambda: datetime.now(UTC))
        for row in record.sets_on(DAY):
            decided |= {rep.rep_id: rep.decided_time_s for rep in record.reps_of(row.set_id)}
        record.close()
    late = []
    for rep_id, painted_s in glass.painted_s.items():
        # The packet that holds the deciding sample: counted from 0, sample 10 is the first of packet 1.
        held = int(decided[rep_id] * trace.rate_hz + 0.5) // PACKET
        late.append(1000 * (painted_s - sensor.arrived_s[min(held, len(sensor.arrived_s) - 1)]))
    return {
        "reps painted": str(len(late)),
        "packet to paint, median": f"{np.median(late):.0f} ms",
        "packet to paint, 95th percentile (wanted: under 50 ms)": f"{np.percentile(late, 95):.0f} ms",
        f"longest pause of the screen's loop in {len(trace) / trace.rate_hz:.0f} s (under 50 ms)": (
            f"{qt_beats.worst_ms():.0f} ms"
        ),
        "longest pause of the radio's loop (under 50 ms)": f"{sensor.beats.worst_ms():.0f} ms",
    }


def trace_share(seconds: float = 5.0) -> dict[str, str]:
    """CPU of the screen's thread while the live trace is drawn, from 100 velocities a second."""
    from station.screens.opening import make_rack_window, screens_application
    from station.screens.pictures import NobodyListens
    from station.screens.sample_views import states

    application = screens_application()
    window = make_rack_window(NobodyListens())
    window.show_view(states()["mid set"])
    window.show()
    application.processEvents()
    counted = _Paints()
    window.trace._plot.viewport().installEventFilter(counted)
    fed = [0.0]

    def feed() -> None:
        times = fed[0] + 0.01 * np.arange(1, 5)
        fed[0] = float(times[-1])
        window.add_trace(LiveTrace(times, np.sin(times)))

    feeder = QTimer()
    feeder.timeout.connect(feed)
    feeder.start(33)
    QTimer.singleShot(int(1000 * seconds), application.quit)
    cpu, wall = time.thread_time(), time.perf_counter()
    application.exec()
    cpu, wall = time.thread_time() - cpu, time.perf_counter() - wall
    feeder.stop()
    window.close()
    window.deleteLater()
    return {
        "trace: pictures a second (30 or more)": f"{counted.count / wall:.0f}",
        "trace: share of one core (under 25 %)": f"{100 * cpu / wall:.0f} %",
    }


class _Paints(QObject):
    count = 0

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt names it
        self.count += event.type() is QEvent.Type.Paint
        return False


START = """
import os, sys, time
from pathlib import Path
begun = float(sys.argv[2])
from PySide6.QtCore import QTimer
from station.commands.rack_command import open_rack, utc_now
from station.screens.rack_app import RackApp
from station.store.record import Record
async def silent(hear):
    import asyncio
    await asyncio.sleep(60)
app = RackApp(lambda show: open_rack(Record(Path(sys.argv[1]), "rack 1", utc_now), show), silent)
with app:
    app.painter.painted.connect(lambda view: QTimer.singleShot(0, app.application.quit))
    app.application.exec()
    print(time.time() - begun)
"""


def start() -> dict[str, str]:
    """From the start of the program to a rack screen that is painted and takes touches: the best of three."""
    took = []
    with TemporaryDirectory() as folder:
        rack = Path(folder) / "club" / "rack-1"  # a folder of its own: racks look at what lies beside theirs
        bench_record(rack).close()
        for _ in range(3):
            words = [sys.executable, "-c", START, str(rack), str(time.time())]
            took.append(float(subprocess.run(words, capture_output=True, text=True, check=True).stdout))
    return {"start to usable screen, best of 3 (under 3 s)": f"{min(took):.2f} s"}


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seconds", type=float, default=60.0)
    seconds = asked.parse_args().seconds
    out = Table(title="The rack in real time", title_justify="left")
    out.add_column("figure")
    out.add_column("here", justify="right")
    parts: list[Callable[[], dict[str, str]]] = [start, trace_share, lambda: session(seconds)]
    for part in parts:
        for name, figure in part().items():
            out.add_row(name, figure)
    assert threading.active_count() < 20, "threads are left behind"
    Console(width=110).print(out)


if __name__ == "__main__":
    main()
