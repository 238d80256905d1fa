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
_RECENT_S = 4.0  # so long a sensor must have been listened to, and another bar's movement is remembered
_MOVING_M_S2 = 1.0  # a lifted bar shakes its sensor by several m/s2; one in a rack by a few hundredths
_CLEARLY = 3.0  # it moves this many times as much as any other
_ALL_HEARD_S = 20.0  # so long nothing is decided before every candidate has been heard


@dataclass(frozen=True, slots=True)
class Movement:
    """How much one sensor moves.

    Attributes:
        sensor: which one.
        spread_m_s2: standard deviation of the length of its specific force over the last second, m/s2; None before
            it has been listened to for four seconds.
        recent_m_s2: the largest such spread of the last four seconds, in which others may have paused between reps.
    """

    sensor: SensorInRange
    spread_m_s2: float | None
    recent_m_s2: float = 0.0


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
    """The sensor that moves clearly more than any other did of late; those that cannot be heard count as still."""
    ordered = sorted(movements, key=lambda movement: -(movement.spread_m_s2 or 0.0))
    first, others = ordered[0], ordered[1:]
    spread = first.spread_m_s2 or 0.0
    most = max((other.recent_m_s2 for other in others), default=0.0)
    return first.sensor if spread > _MOVING_M_S2 and spread > _CLEARLY * most else None


class _Watch:
    """The last seconds of one sensor."""

    def __init__(self, sensor: SensorInRange) -> None:
        assert sensor.profile is not None
        self._sensor, self._profile = sensor, sensor.profile
        self._window = max(2, round(sensor.profile.rate_hz * _WINDOW_S))
        self._length_m_s2: FloatArray = np.empty(0)

    def movement(self) -> Movement:
        wanted = round(_RECENT_S / _WINDOW_S) * self._window
        if len(self._length_m_s2) < wanted:
            return Movement(self._sensor, None)
        spreads = self._length_m_s2[-wanted:].reshape(-1, self._window).std(axis=1)
        return Movement(self._sensor, float(spreads[-1]), float(spreads.max()))

    def link(self, radio: Radio, look: Callable[[SampleBlock], None]) -> SensorLink:
        def on_samples(block: SampleBlock) -> None:
            length = np.linalg.norm(block.acc_m_s2, axis=1)
            kept = -round(_RECENT_S / _WINDOW_S) * self._window
            self._length_m_s2 = np.concatenate([self._length_m_s2, length])[kept:]
            look(block)

        def on_event(_event: LinkEvent) -> None:
            """Only movement matters here."""

        name = self._sensor.name or self._sensor.address
        return SensorLink(radio, self._sensor.address, self._profile, on_samples, on_event, name=name)
