"""From the blocks of a link to motion events: clock, calibration and engine of the sensor at this rack."""

from __future__ import annotations

from drivers.clock import SampleClock
from drivers.samples import SampleBlock
from station.capture.link_news import SensorFacts
from station.capture.rack_view import LiveTrace
from station.motion.calibration import Calibration
from station.motion.engine import MotionEngine
from station.motion.events import MotionEvent
from station.squad.lifts import Lift

# Packets come a few times a second; only a longer silence is passed on as time without samples.
QUIET_S = 0.5


class Measurement:
    """Clock and engine. A sensor that counts anew after a restart gets a new clock and engine.

    Args:
        lift: what is lifted first; None: whatever comes, also when the rack names a lift (a recording).
        sensor: what its profile says, once known.
    """

    def __init__(self, lift: Lift | None, sensor: SensorFacts | None = None) -> None:
        self._sensor = sensor
        self.calibration: Calibration | None = None
        self._any_lift = lift is None
        self._lift = lift
        self._usual_range_m: float | None = None
        self._restart()

    def _restart(self) -> None:
        self.clock = SampleClock(self._sensor.nominal_rate_hz if self._sensor else None)
        self.engine = self._new_engine()
        self._last_seq = -1
        self._last_time_s = 0.0
        self._last_host_s: float | None = None

    def _new_engine(self) -> MotionEngine:
        return MotionEngine(
            "bar",
            lift=self._lift,
            calibration=self.calibration,
            usual_range_m=self._usual_range_m,
            range_m_s2=self.range_m_s2,
        )

    @property
    def range_m_s2(self) -> float | None:
        """The sensor's range of acceleration, m/s2, where its profile states it."""
        return self._sensor.range_m_s2 if self._sensor else None

    def use(self, sensor: SensorFacts) -> None:
        """Another kind of sensor streams from now on."""
        if sensor != self._sensor:
            self._sensor = sensor
            self._restart()

    def calibrate(self, calibration: Calibration | None) -> None:
        """Take this sensor's errors out from now on; None: it was never calibrated."""
        self.calibration = calibration
        self._restart()

    def feed(self, block: SampleBlock) -> list[MotionEvent]:
        """Samples as they came; what the engine makes of them."""
        if not len(block):
            return []
        events: list[MotionEvent] = []
        if int(block.seq[0]) <= self._last_seq:
            events = self.engine.finish()
            self._restart()
        self._last_seq = int(block.seq[-1])
        self._last_host_s = float(block.host_time_s[-1])
        timed = self.clock.time(block)
        if len(timed):
            self._last_time_s = float(timed.time_s[-1])
        return events + self.engine.feed(timed)

    def advance(self, host_now_s: float) -> list[MotionEvent]:
        """Time passes without samples."""
        if self._last_host_s is None or host_now_s - self._last_host_s < QUIET_S:
            return []
        return self.engine.advance(self._last_time_s + host_now_s - self._last_host_s)

    def new_set(self, lift: Lift, usual_range_m: float | None) -> None:
        """From now on reps are counted anew, for this lift."""
        other_lift = not self._any_lift and lift != self._lift
        self._usual_range_m = usual_range_m
        if not self._any_lift:
            self._lift = lift
        if other_lift:
            self.engine = self._new_engine()
        else:
            self.engine.new_set(usual_range_m)

    def end_set(self) -> None:
        """A person ends the set."""
        self.engine.end_set()

    def live(self) -> LiveTrace | None:
        """The live velocity since the last call."""
        time_s, velocity_m_s = self.engine.live()
        return LiveTrace(time_s, velocity_m_s) if len(time_s) else None
