"""One belt of the jump line: clock and engine, what its link says, its latest raw samples."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from station import __version__
from station.capture.jump_raw import LatestSamples
from station.capture.kept_calibration import kept_calibration
from station.capture.link_news import WAITING, LinkNews
from station.capture.measurement import Measurement
from station.capture.rack_view import SensorLine
from station.motion.engine import MotionEngine
from station.store.jumps import JumpSource


class BeltMeasurement(Measurement):
    """Clock and engine of a belt."""

    def __init__(self) -> None:
        super().__init__(None)

    def _new_engine(self) -> MotionEngine:
        return MotionEngine("belt", calibration=self.calibration, range_m_s2=self.range_m_s2)


@dataclass(slots=True)
class Belt:
    """One belt: its measurement, what its link says, its latest raw samples; `address`: whose calibration is used."""

    measurement: BeltMeasurement
    sensor: SensorLine = WAITING
    latest: LatestSamples = field(default_factory=LatestSamples)
    address: str | None = None

    def hear(self, news: LinkNews, book_folder: Path) -> None:
        """What its link says.

        Args:
            book_folder: of the sensor book, where calibrations are kept.
        """
        self.sensor = news.sensor
        if news.facts is not None:
            self.measurement.use(news.facts)
        if news.address is not None and news.address != self.address:
            self._calibrate(news.address, book_folder)

    def _calibrate(self, address: str, book_folder: Path) -> None:
        """Another sensor streams: what is kept of its calibration takes its errors out from now on."""
        self.address = address
        calibration = kept_calibration(book_folder, address)
        if calibration is not None or self.measurement.calibration is not None:
            self.measurement.calibrate(calibration)

    def source(self) -> JumpSource:
        """What measures here, to be kept with each jump."""
        calibration = self.measurement.calibration
        row = calibration.as_row() if calibration is not None else None
        return JumpSource(self.sensor.name, __version__, self.measurement.range_m_s2, row)
