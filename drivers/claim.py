"""Which sensor is on this bar: the one that moves now. Nobody has to read addresses."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from drivers.link import SensorLink
from drivers.link_events import LinkEvent
from drivers.radio import Radio
from drivers.samples import FloatArray, SampleBlock
from drivers.scan import SensorInRange

_WINDOW_S = 1.0
_MOVING_M_S2 = 1.0  # a lifted bar shakes its sensor by several m/s2; one in a rack by a few hundredths
_CLEARLY = 3.0  # it moves this many times as much as any other
_ALL_HEARD_S = 20.0  # so long nothing is decided before every candidate has been heard


@dataclass(frozen=True, slots=True)
class Movement:
    """How much one sensor moves.

    Attributes:
        sensor: which one.
        spread_m_s2: standard deviation of the length of its specific force over the last second, m/s2; None before
            a second of samples has come.
    """

    sensor: SensorInRange
    spread_m_s2: float | None


async def find_moving(
    radio: Radio,
    candidates: Sequence[SensorInRange],
    seconds: float = 30.0,
    *,
    on_progress: Callable[[list[Movement]], None] | None = None,
) -> SensorInRange | None:
    """Listen to several sensors at once until one of them clearly moves and the others do not.

    Args:
        radio: the radio to use.
        candidates: sensors with a profile; leave out those that another rack has claimed.
        seconds: when to give up, s.
        on_progress: called with the movement of all of them whenever samples come, for a screen that shows it.

    Returns:
        The sensor that moves, or None when none does, or more than one.
    """
    watches = [_Watch(sensor) for sensor in candidates if sensor.profile is not None]
    if not watches:
        return None
    started_s = time.monotonic()
    found = asyncio.Event()
    moving: list[SensorInRange] = []

    def look(_block: SampleBlock) -> None:
        movements = [watch.movement() for watch in watches]
        if on_progress is not None:
            on_progress(movements)
        heard_all = all(movement.spread_m_s2 is not None for movement in movements)
        if not heard_all and time.monotonic() - started_s < _ALL_HEARD_S:
            return
        one = _the_moving_one(movements)
        if one is not None and not moving:
            moving.append(one)
            found.set()

    links = [watch.link(radio, look) for watch in watches]
    try:
        for link in links:
            link.start()
        async with asyncio.timeout(seconds):
            await found.wait()
    except TimeoutError:
        return None
    finally:
        await asyncio.gather(*(link.close() for link in links))
    return moving[0]


def _the_moving_one(movements: list[Movement]) -> SensorInRange | None:
    """The sensor that moves clearly more than all others; those that cannot be heard count as still."""
    ordered = sorted(movements, key=lambda movement: -(movement.spread_m_s2 or 0.0))
    first = ordered[0].spread_m_s2 or 0.0
    second = (ordered[1].spread_m_s2 or 0.0) if len(ordered) > 1 else 0.0
    return ordered[0].sensor if first > _MOVING_M_S2 and first > _CLEARLY * second else None


class _Watch:
    """The last second of one sensor."""

    def __init__(self, sensor: SensorInRange) -> None:
        self._sensor = sensor
        self._length_m_s2: FloatArray = np.empty(0)

    def movement(self) -> Movement:
        enough = len(self._length_m_s2) >= self._wanted
        return Movement(self._sensor, float(self._length_m_s2.std()) if enough else None)

    def link(self, radio: Radio, look: Callable[[SampleBlock], None]) -> SensorLink:
        def on_samples(block: SampleBlock) -> None:
            length = np.linalg.norm(block.acc_m_s2, axis=1)
            self._length_m_s2 = np.concatenate([self._length_m_s2, length])[-self._wanted :]
            look(block)

        def on_event(_event: LinkEvent) -> None:
            """Only movement matters here."""

        assert self._sensor.profile is not None
        return SensorLink(
            radio, self._sensor.address, self._sensor.profile, on_samples, on_event, name=self._sensor.name
        )

    @property
    def _wanted(self) -> int:
        assert self._sensor.profile is not None
        return max(2, round(self._sensor.profile.rate_hz * _WINDOW_S))
