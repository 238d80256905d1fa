"""The radio's side of a rack: finds this rack's sensor, holds on to it, and tells the rack in plain words.

Runs in the radio's asyncio loop. What it hears goes out through one function, which only queues.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, replace

from bleak.exc import BleakError

from drivers.link import SensorLink
from drivers.link_events import BatteryRead, LinkEvent, LinkReport, LinkState, StateChanged
from drivers.profile import SensorProfile, shipped_profiles
from drivers.radio import Radio, RadioError
from drivers.samples import SampleBlock
from drivers.scan import SensorInRange, scan
from drivers.statistics import LinkStatistics
from station.capture.link_news import WAITING, LinkNews, SensorFacts
from station.capture.rack_view import SensorLine, TroubleLine

SCAN_S = 3.0
AFTER_A_RADIO_FAULT_S = 5.0
# In one report, about a second: less is everyday radio and marked on the reps it touches.
WORTH_SAYING_LOSS = 0.05
WORTH_SAYING_PACKETS = 3

Hear = Callable[[SampleBlock | LinkNews], None]


@dataclass(frozen=True, slots=True)
class SensorChoice:
    """Which sensor this rack wants.

    Attributes:
        wanted: name or address; None: the strongest with a known profile.
        own_profiles: profiles of the club's own, tried before the shipped ones.
        transport: how the radio is reached; None: the machine's own adapter.
    """

    wanted: str | None = None
    own_profiles: tuple[SensorProfile, ...] = ()
    transport: str | None = None

    def fits(self, sensor: SensorInRange) -> bool:
        """Whether this is the one."""
        if sensor.profile is None:
            return False
        return self.wanted is None or self.wanted.lower() in (sensor.name.lower(), sensor.address.lower())


async def listen_to_sensor(choice: SensorChoice, hear: Hear) -> None:
    """Find the sensor and pass on what it sends, until cancelled; then let it go."""
    hear(LinkNews(WAITING))
    async with Radio(choice.transport) as radio:
        sensor = await _find(radio, choice, hear)
        assert sensor.profile is not None, "only sensors with a profile fit"
        teller = _Teller(sensor, hear)
        link = SensorLink(
            radio, sensor.address, sensor.profile, hear, teller.tell, name=sensor.name or sensor.address
        )
        async with link:
            await asyncio.get_running_loop().create_future()  # until cancelled


async def _find(radio: Radio, choice: SensorChoice, hear: Hear) -> SensorInRange:
    """Scan until a fitting sensor is heard; a radio that fails is said and tried again."""
    profiles = (*choice.own_profiles, *shipped_profiles())
    while True:
        try:
            found = await scan(
                radio, SCAN_S, profiles, stop_when=lambda heard: any(choice.fits(s) for s in heard)
            )
        except (BleakError, RadioError, OSError) as error:
            hear(LinkNews(replace(WAITING, link="no radio"), _no_radio(error)))
            await asyncio.sleep(AFTER_A_RADIO_FAULT_S)
            continue
        fitting = [sensor for sensor in found if choice.fits(sensor)]
        if fitting:
            return fitting[0]
        hear(LinkNews(WAITING, _not_there(choice)))


def _no_radio(error: BaseException) -> TroubleLine:
    """The system's reason where it is one for people; a bare error number is not."""
    if isinstance(error, OSError):
        reason = "the system's Bluetooth service does not answer"
    else:
        reason = str(error.args[0] if error.args else error).partition("\n")[0]
    return TroubleLine(
        "link", f"Bluetooth cannot be used: {reason}", "Switch Bluetooth on, or plug an adapter in.", True
    )


def _not_there(choice: SensorChoice) -> TroubleLine:
    what = f"{choice.wanted} is not in range" if choice.wanted else "no known sensor is in range"
    return TroubleLine(
        "link", what, "Switch the sensor on and bring it near; charge it if it stays dark.", True
    )


def stream_quality(before: LinkStatistics, now: LinkStatistics) -> TroubleLine | None:
    """What of the stream since the last report is worth saying: nonsense first, then losses."""
    malformed = now.malformed - before.malformed
    if malformed >= WORTH_SAYING_PACKETS:
        return TroubleLine(
            "quality",
            "The sensor sends packets that do not fit its profile",
            "Check that the profile belongs to this sensor; switch it off and on.",
        )
    lost = now.lost_samples - before.lost_samples
    expected = lost + now.samples - before.samples
    if expected and lost / expected >= WORTH_SAYING_LOSS:
        return TroubleLine(
            "quality",
            f"{round(100 * lost / expected)} % of the sensor's samples are lost",
            "Bring station and sensor closer together, out of the way of bodies and steel.",
        )
    return None


class _Teller:
    """Puts the link's events into the rack's words."""

    def __init__(self, sensor: SensorInRange, hear: Hear) -> None:
        self._hear = hear
        self._address = sensor.address
        self._line = SensorLine(sensor.name, LinkState.IDLE.value, False, sensor.battery_percent)
        self._facts = _facts(sensor.profile)
        self._lost: TroubleLine | None = None
        self._quality: TroubleLine | None = None
        self._before = LinkStatistics()

    def tell(self, event: LinkEvent) -> None:
        """Called in the radio's loop; only queues."""
        if isinstance(event, BatteryRead):
            self._line = replace(self._line, battery_percent=event.percent)
        elif isinstance(event, StateChanged):
            self._state(event)
        elif not (isinstance(event, LinkReport) and self._report(event)):
            return
        address = self._address if self._line.streaming else None
        self._hear(LinkNews(self._line, self._lost, address, self._facts, self._quality))

    def _report(self, event: LinkReport) -> bool:
        """Take a report in; whether it changes what is said."""
        quality = stream_quality(self._before, event.statistics)
        self._before = event.statistics
        changed = quality != self._quality
        self._quality = quality
        return changed

    def _state(self, event: StateChanged) -> None:
        streaming = event.state is LinkState.STREAMING
        self._line = replace(self._line, link=event.state.value, streaming=streaming)
        if streaming or event.state is LinkState.CLOSED:
            self._lost = None
        elif event.state in (LinkState.LOST, LinkState.STALLED):
            # Kept while the link tries again, so that the words do not flicker.
            self._lost = TroubleLine(
                "link", event.words, "The station keeps trying; reps meanwhile are not measured.", True
            )


def _facts(profile: SensorProfile | None) -> SensorFacts | None:
    return None if profile is None else SensorFacts(profile.rate_hz, profile.acceleration.limit)
