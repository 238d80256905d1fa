"""`python -m tests.bench.engine_memory`: the engine's memory and speed over eight simulated hours of lifting.

Sets and rests at one rack, over and over, at 200 Hz with six axes. Printed every simulated hour: the size of all that
the engine holds (pickled: every array and object it refers to), the blocks Python has allocated, and how much faster
than real time it went. Tracing every allocation instead takes as long as the lifting.
"""

from __future__ import annotations

import gc
import pickle
import sys
import time

import numpy as np

from drivers.samples import TimedBlock
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from station.motion.engine import MotionEngine
from station.squad.lifts import lift_named

HOURS = 8
BLOCK_S = 2.0


def main() -> None:
    """Print one line an hour."""
    plans = [PlannedSet("back squat", (0.7, 0.6, 0.5), 0.6) for _ in range(4)]
    trace = make_session_trace(plans, seed=5, rest_between_s=60.0)
    engine = MotionEngine("bar", lift_named("back squat"))
    step = round(BLOCK_S * trace.rate_hz)
    now_s, counted, reps, hour = 0.0, 0, 0, 1
    began = time.process_time()
    while now_s < HOURS * 3600:
        for at in range(0, len(trace) - step, step):
            seq = np.arange(counted, counted + step)
            assert trace.gyr_rad_s is not None
            samples = slice(at, at + step)
            block = TimedBlock(seq / trace.rate_hz, seq, trace.acc_m_s2[samples], trace.gyr_rad_s[samples])
            reps += sum(type(event).__name__ == "RepMeasured" for event in engine.feed(block))
            engine.live()
            counted += step
        now_s = counted / trace.rate_hz
        if now_s >= hour * 3600:
            pace = now_s / (time.process_time() - began)
            gc.collect()
            held_mb = len(pickle.dumps(engine)) / 1e6
            print(
                f"{hour} h: {reps} reps, engine {held_mb:.2f} MB, {sys.getallocatedblocks()} Python blocks, "
                f"{pace:.0f} times real time",
                flush=True,
            )
            hour += 1


if __name__ == "__main__":
    main()
