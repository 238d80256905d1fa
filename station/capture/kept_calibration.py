"""The calibration that is kept with a sensor, as the engine takes it."""

from __future__ import annotations

import logging
from pathlib import Path

from station.motion.calibration import Calibration
from station.store.errors import SensorBookUnreadable
from station.store.sensor_book import SensorBook

log = logging.getLogger(__name__)


def kept_calibration(folder: Path, address: str) -> Calibration | None:
    """The calibration of the sensor at this address; None where none was made, or it cannot be read.

    Args:
        folder: the folder of the sensor book.
        address: of the sensor.
    """
    try:
        known = SensorBook(folder).of(address)
    except SensorBookUnreadable as error:
        log.warning("no calibration: %s", error)
        return None
    if known is None or known.calibration is None:
        return None
    try:
        kept = Calibration.from_row(known.calibration)
    except ValueError as error:
        log.warning("the calibration of %s is left out: %s", known.name or address, error)
        return None
    if not kept.cross_axis_known:
        log.info(
            "%s was calibrated on its faces alone: calibrate it again for cross-axis", known.name or address
        )
    return kept
