"""The sensor book: one small file beside the racks' folders that says which sensor belongs to which rack.

All stations of a machine share it. It also keeps what cannot be asked of a sensor that is switched off: its serial
number, its last battery level and when that was read. Every change is one whole file put in place of the last one,
under a lock; a book that cannot be read is put aside and begun anew, since the next lift of the bar mends it.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from station.store.errors import ClaimedElsewhere, FolderNotWritable, SensorBookHeld, SensorBookUnreadable
from station.store.known_sensor import KnownSensor, as_row, from_row
from station.store.sensor_holds import hold, is_held

log = logging.getLogger(__name__)

FILE_NAME = "sensors.json"
LOCK_WAIT_S = 5.0


class SensorBook:
    """Reads and writes the book in one folder.

    Whatever changes the book raises `SensorBookHeld` when another program holds it for long, and `FolderNotWritable`
    when it cannot be written; whatever looks into it raises `SensorBookUnreadable` when it is there and cannot be
    read. Then it is as it was.

    Args:
        folder: the folder that holds the racks' folders.
        now: gives the UTC instant.
    """

    def __init__(self, folder: Path, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self.path = folder / FILE_NAME
        self._now = now

    def sensors(self) -> list[KnownSensor]:
        """All that is known, by name."""
        return sorted(self._read(), key=lambda sensor: (sensor.name, sensor.address))

    def of(self, address: str) -> KnownSensor | None:
        """What is known of the sensor at this address."""
        return next((one for one in self._read() if one.address == address), None)

    def claimed_by(self, rack: str) -> KnownSensor | None:
        """The sensor that belongs to this rack."""
        return next((one for one in self._read() if one.rack == rack), None)

    def claim(self, address: str, name: str, rack: str, *, take_over: bool = False) -> str | None:
        """From now on this sensor, and no other, belongs to this rack; the rack it was taken from, or None.

        Raises:
            ClaimedElsewhere: it belongs to another rack, and is not to be taken over.
        """
        with self._lock():
            sensors = self._read()
            before = _one(sensors, address)
            if before.rack not in (None, rack) and not take_over:
                raise ClaimedElsewhere(before.name or address, before.rack or "")
            others = [replace(s, rack=None) if s.rack == rack else s for s in _but(sensors, before)]
            self._write([*others, replace(before, name=name or before.name, rack=rack)])
            return before.rack if before.rack != rack else None

    def of_serial(self, serial: str, *, but: str) -> KnownSensor | None:
        """The sensor at another address that a serial number may mean; None when it is empty or shared."""
        others = _of_serial(self._read(), serial, but)
        return None if any(s.serial_is_shared for s in others) else next(iter(others), None)

    def identified(
        self, address: str, name: str, serial: str, *, other_is_alive: bool = False
    ) -> KnownSensor:
        """A sensor told its serial number; one that had another address before is the same sensor.

        Two that are alive together are two: from then on that serial number tells nobody who is who.

        Args:
            address: where it is connected.
            name: what it calls itself.
            serial: what it told.
            other_is_alive: the other address with this number was heard while this sensor was connected.
        """
        with self._lock():
            sensors = self._read()
            here = _one(sensors, address)
            rest = _but(sensors, here)
            others = _of_serial(rest, serial, address)
            two = any(other_is_alive or s.serial_is_shared or self._is_connected(s) for s in others)
            rest = [s for s in rest if s not in others]
            rest += [replace(s, serial_is_shared=True) for s in others if two]
            before = replace(here, serial_is_shared=True) if two else next(iter(others), here)
            rack = before.rack or here.rack
            known = replace(before, address=address, name=name or here.name, serial=serial, rack=rack)
            self._write([*rest, known])
            return known

    def hold(self, address: str) -> FileLock | None:
        """Say to every station of the machine that this sensor is connected, until the lock is released.

        Raises:
            FolderNotWritable: that cannot be said.
        """
        return hold(self.path.parent, address)

    def _is_connected(self, sensor: KnownSensor) -> bool:
        return is_held(self.path.parent, sensor.address)

    def moved(self, before: str, address: str) -> None:
        """The sensor that was heard at one address is the one at another."""
        with self._lock():
            sensors = self._read()
            known = replace(_one(sensors, before), address=address)
            self._write([*(s for s in sensors if s.address not in (before, address)), known])

    def battery(self, address: str, percent: int) -> None:
        """A battery level was read just now."""
        with self._lock():
            sensors = self._read()
            before = _one(sensors, address)
            known = replace(before, battery_percent=percent, battery_at=self._now())
            self._write([*_but(sensors, before), known])

    def calibrated(self, address: str, name: str, calibration: dict[str, Any]) -> None:
        """The sensor at this address was calibrated just now.

        Raises:
            FolderNotWritable: it cannot be kept.
        """
        with self._lock():
            sensors = self._read()
            before = _one(sensors, address)
            known = replace(
                before, name=name or before.name, calibration=calibration, calibrated_at=self._now()
            )
            self._write([*_but(sensors, before), known])

    @contextmanager
    def _lock(self) -> Iterator[None]:
        lock = FileLock(self.path.with_suffix(".lock"), timeout=LOCK_WAIT_S)
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            lock.acquire()
        except Timeout as error:  # an OSError, too: callers would take it for the radio's
            raise SensorBookHeld(Path(lock.lock_file)) from error
        except OSError as error:
            raise FolderNotWritable(self.path.parent, error.strerror or str(error)) from error
        try:
            yield
        finally:
            lock.release()

    def _read(self) -> list[KnownSensor]:
        try:
            rows = json.loads(self.path.read_text(encoding="utf-8"))["sensors"]
            return [from_row(row) for row in rows]
        except FileNotFoundError:
            return []
        except OSError as error:  # callers would take it for the radio's
            raise SensorBookUnreadable(self.path, error.strerror or str(error)) from error
        except (ValueError, TypeError, KeyError, AttributeError) as error:
            self._put_aside(error)
            return []

    def _put_aside(self, why: Exception) -> None:
        aside = self.path.with_suffix(".unreadable")
        log.warning("%s cannot be read (%s); it was put aside as %s", self.path, why, aside.name)
        try:
            self.path.replace(aside)
        except OSError as error:
            raise SensorBookUnreadable(self.path, error.strerror or str(error)) from error

    def _write(self, sensors: list[KnownSensor]) -> None:
        rows = [as_row(sensor) for sensor in sensors]
        new = self.path.with_suffix(".new")
        try:
            new.write_text(
                json.dumps({"sensors": rows}, ensure_ascii=False, indent=1) + "\n", encoding="utf-8"
            )
            new.replace(self.path)
        except OSError as error:
            raise FolderNotWritable(self.path.parent, error.strerror or str(error)) from error


def _one(sensors: list[KnownSensor], address: str) -> KnownSensor:
    return next((s for s in sensors if s.address == address), KnownSensor(address))


def _of_serial(sensors: list[KnownSensor], serial: str, but: str) -> list[KnownSensor]:
    return [s for s in sensors if serial and s.serial == serial and s.address != but]


def _but(sensors: list[KnownSensor], one: KnownSensor) -> list[KnownSensor]:
    return [s for s in sensors if s.address != one.address]
