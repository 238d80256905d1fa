"""A rack on a bench: a record with history, a rack, all it showed, and a simulated bar to feed it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np

from drivers.samples import SampleBlock
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from simulated_sensor.trace import SensorTrace
from station.capture.link_news import SensorFacts
from station.capture.measurement import Measurement
from station.capture.rack import Rack
from station.capture.rack_setup import setup_from_record
from station.capture.rack_view import LiveTrace, RackView
from station.capture.raw_keeper import RawKeeper
from station.squad.athletes import Athlete
from station.squad.lifts import LIFTS
from station.store.record import Record
from station.store.rows import NewRep, NewSet

DAY = date(2026, 10, 14)
LIFT = "back squat"
WARMUP = PlannedSet(LIFT, (0.95, 0.92, 0.90), 0.60, longest_pause_s=1.0)
WORK = PlannedSet(LIFT, (0.60, 0.56, 0.50, 0.44), 0.60, longest_pause_s=1.0)


class Now:
    """A clock that goes on by a second at each look."""

    def __init__(self) -> None:
        self.now = datetime(2026, 10, 14, 10, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


@cache  # the same few sets are lifted again and again
def session_trace(sets: tuple[PlannedSet, ...], seed: int) -> SensorTrace:
    """The sets as a sensor's trace, which nobody may change."""
    trace = make_session_trace(sets, seed=seed, rest_between_s=8.0)
    for one in (trace.acc_m_s2, trace.gyr_rad_s):
        if one is not None:
            one.flags.writeable = False
    return trace


def blocks(trace: SensorTrace, start_s: float = 100.0, packet: int = 10) -> Iterator[SampleBlock]:
    """The trace as packets that arrive 15 ms after their last sample."""
    for first in range(0, len(trace), packet):
        part = slice(first, first + packet)
        acc = trace.acc_m_s2[part]
        seq = np.arange(first, first + len(acc))
        arrival = np.full(len(acc), start_s + seq[-1] / trace.rate_hz + 0.015)
        gyr = trace.gyr_rad_s[part] if trace.gyr_rad_s is not None else None
        yield SampleBlock(seq, arrival, acc, gyr)


def history(record: Record, athlete_id: str, speed: float) -> None:
    """Ten earlier sessions at 60 kg and 95 kg."""
    for week in range(10, 0, -1):
        day = DAY - timedelta(weeks=week)
        for load, kind, velocity in ((60.0, "warm-up", speed), (95.0, "work", speed - 0.38)):
            set_id = record.begin_set(NewSet(athlete_id, True, day, 1, LIFT, load, kind))
            wobble = 0.02 if week % 2 else -0.02
            record.add_rep(set_id, NewRep(1, "measured", 1, 2, 2.3, velocity + wobble, 0.9, 1.4, 0.6, 0.01))


class Bench:
    """A rack on a bench: the record, the rack, and everything it showed."""

    def __init__(self, folder: Path, name: str = "rack 1") -> None:
        self.record = Record(folder, name, Now())
        self.record.add_athletes(
            [
                Athlete(key, name, n, "rack 1")
                for n, (key, name) in enumerate([("a", "Aino"), ("b", "Bela")], 7)
            ]
        )
        for key in ("a", "b"):
            plan = {"athlete_id": key, "lift": LIFT, "warmup_load_kg": 60.0, "planned_load_kg": 95.0}
            self.record.add_rows("plans", [plan | {"ceiling_kg": 100.0, "work_sets": 3, "stop_loss": 0.2}])
        history(self.record, "a", 0.96)
        history(self.record, "b", 1.10)
        self.views: list[RackView] = []
        self.traces: list[LiveTrace] = []
        measurement = Measurement(LIFTS[LIFT], SensorFacts(200.0, 156.9))
        self.rack = Rack(
            self.record,
            setup_from_record(self.record),
            measurement,
            RawKeeper(folder / "raw"),
            self._show,
            lambda: DAY,
        )

    def _show(self, item: RackView | LiveTrace) -> None:
        self.views.append(item) if isinstance(item, RackView) else self.traces.append(item)

    @property
    def view(self) -> RackView:
        return self.views[-1]

    def lift(self, *sets: PlannedSet, seed: int = 5, at_s: float = 100.0) -> SensorTrace:
        trace = session_trace(sets, seed)
        for block in blocks(trace, at_s):
            self.rack.samples(block)
            self.rack.tick(float(block.host_time_s[-1]))
        return trace


def numbers(view: RackView) -> list[float]:
    assert view.set is not None
    return [r.mean_velocity_m_s for r in view.set.reps if r.mean_velocity_m_s is not None]
