"""Which sensor is this rack's: the one it claimed, the one a person named, or the one that moves when a person asks.

A rack connects to no other: a free sensor is listened to only after a person has asked this rack to find the one on
its bar. One that belongs to another rack is never taken unless a person names it.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from bleak.exc import BleakError

from drivers.cancelling import raise_if_cancelled
from drivers.claim import find_moving
from drivers.profile import SensorProfile, shipped_profiles
from drivers.radio import Radio, RadioError
from drivers.scan import SensorInRange, scan
from station.capture.link_news import WAITING, LinkNews
from station.capture.rack_view import TroubleLine
from station.capture.sensor_identity import under_another_address
from station.capture.sensor_words import name_of, no_book, no_radio, not_there, note
from station.store.errors import ClaimedElsewhere, StoreError
from station.store.known_sensor import KnownSensor
from station.store.sensor_book import SensorBook

SCAN_S = 3.0
FIRST_LOOK_S = 2.0  # long enough to hear every sensor nearby, so that "the only one" is true
LIFT_S = 30.0
AFTER_A_FAULT_S = 5.0
HOW_TO_ASK = "Touch More, then Sensor"

Say = Callable[[LinkNews], None]


@dataclass(frozen=True, slots=True)
class SensorChoice:
    """Which sensor this rack wants.

    Attributes:
        wanted: name or address that a person gave; None: the one this rack claimed, else one to be claimed.
        own_profiles: profiles of the club's own, tried before the shipped ones.
        transport: how the radio is reached; None: the machine's own adapter.
        rack: who claims.
        book: where claims are kept; None: nowhere.
        asked: set when a person asks for the sensor on this rack's bar: "lift the bar".
    """

    wanted: str | None = None
    own_profiles: tuple[SensorProfile, ...] = ()
    transport: str | None = None
    rack: str = "rack 1"
    book: SensorBook | None = None
    asked: asyncio.Event = field(default_factory=asyncio.Event, compare=False)

    @property
    def profiles(self) -> tuple[SensorProfile, ...]:
        """All that are known here."""
        return (*self.own_profiles, *shipped_profiles())

    def is_wanted(self, sensor: SensorInRange) -> bool:
        """Whether this is the one a person named."""
        names = (sensor.name.lower(), sensor.address.lower())
        return sensor.profile is not None and self.wanted is not None and self.wanted.lower() in names


@dataclass(frozen=True, slots=True)
class Chosen:
    """A sensor to connect to, and what to tell people of the choice."""

    sensor: SensorInRange
    note: TroubleLine | None = None


async def choose_sensor(radio: Radio, choice: SensorChoice, say: Say) -> Chosen:
    """Look until this rack's sensor is found; a radio or a book that fails is said and tried again."""
    asked: set[str] = set()  # who told its serial number
    while True:
        try:
            chosen = await _look_once(radio, choice, say, asked)
        except ClaimedElsewhere:
            continue  # another rack was quicker
        except StoreError as error:
            trouble = no_book(error, "link", serious=True)
            say(LinkNews(replace(WAITING, link="no sensor book"), trouble))
            await asyncio.sleep(AFTER_A_FAULT_S)
            continue
        except (
            BleakError,
            RadioError,
            OSError,
            EOFError,
        ) as error:  # EOFError: the system's service has ended
            raise_if_cancelled(error)
            say(LinkNews(replace(WAITING, link="no radio"), no_radio(error)))
            await asyncio.sleep(AFTER_A_FAULT_S)
            continue
        if chosen is not None:
            return chosen


async def _look_once(radio: Radio, choice: SensorChoice, say: Say, asked: set[str]) -> Chosen | None:
    known = await asyncio.to_thread(choice.book.sensors) if choice.book is not None else []
    mine = next((one for one in known if one.rack == choice.rack), None)
    if choice.wanted is not None:
        return await _the_named_one(radio, choice, say)
    elsewhere = {one.address: one.rack for one in known if one.rack not in (None, choice.rack)}
    if choice.asked.is_set():
        return await _the_one_on_the_bar(radio, choice, elsewhere, say)
    if mine is not None:
        return await _the_claimed_one(radio, choice, mine, say, asked)
    await _say_who_is_there(radio, choice, elsewhere, say)
    return None


async def _the_named_one(radio: Radio, choice: SensorChoice, say: Say) -> Chosen | None:
    heard = await scan(
        radio, SCAN_S, choice.profiles, stop_when=lambda heard: any(map(choice.is_wanted, heard))
    )
    sensor = next(filter(choice.is_wanted, heard), None)
    if sensor is None:
        say(LinkNews(WAITING, not_there(f"{choice.wanted} is not in range")))
        return None
    before = await _claim(choice, sensor, take_over=True)
    words = f"{name_of(sensor)} belonged to {before} until now"
    return Chosen(sensor, note(words, f"{before} needs another sensor.") if before else None)


async def _the_claimed_one(
    radio: Radio, choice: SensorChoice, mine: KnownSensor, say: Say, asked: set[str]
) -> Chosen | None:
    def is_mine(sensor: SensorInRange) -> bool:
        return sensor.profile is not None and sensor.address == mine.address

    assert choice.book is not None, "only a book knows a claimed sensor"
    heard = await scan(radio, SCAN_S, choice.profiles, stop_when=lambda heard: any(map(is_mine, heard)))
    sensor = next(filter(is_mine, heard), None)
    if sensor is None:
        sensor = await under_another_address(radio, choice.book, mine, heard, asked)
    if sensor is None:
        say(
            LinkNews(
                WAITING,
                not_there(f"{mine.name or mine.address}, this rack's sensor, is not in range, or asleep"),
            )
        )
    return Chosen(sensor) if sensor is not None else None


async def _free_ones(
    radio: Radio, choice: SensorChoice, elsewhere: Mapping[str, str | None], say: Say
) -> list[SensorInRange]:
    """Sensors that belong to no other rack; when there are none, that is said."""
    heard = [one for one in await scan(radio, FIRST_LOOK_S, choice.profiles) if one.profile is not None]
    free = [one for one in heard if one.address not in elsewhere]
    if not free:
        others = ", ".join(f"{name_of(one)} ({elsewhere[one.address]})" for one in heard)
        words = (
            f"no free sensor is in range; others' are: {others}" if others else "no known sensor is in range"
        )
        say(LinkNews(WAITING, not_there(words)))
    return free


async def _say_who_is_there(
    radio: Radio, choice: SensorChoice, elsewhere: Mapping[str, str | None], say: Say
) -> None:
    free = await _free_ones(radio, choice, elsewhere, say)
    if free:
        there = f"{name_of(free[0])} is" if len(free) == 1 else f"{len(free)} free sensors are"
        words = f"This rack has no sensor yet; {there} in range"
        say(LinkNews(WAITING, TroubleLine("link", words, f"{HOW_TO_ASK}, and lift the bar.", True)))


async def _the_one_on_the_bar(
    radio: Radio, choice: SensorChoice, elsewhere: Mapping[str, str | None], say: Say
) -> Chosen | None:
    """A person has asked: of those in range the only one, or the one that moves."""
    free = await _free_ones(radio, choice, elsewhere, say)
    if not free:
        return None
    if len(free) == 1:
        await _claim(choice, free[0])
        choice.asked.clear()
        words = f"{name_of(free[0])} was taken, the only free sensor in range"
        return Chosen(free[0], note(words, "If it is on another bar, give this rack the right one."))
    lift = f"{len(free)} sensors are in range. Lift this rack's bar, and leave the others still"
    waiting = replace(WAITING, link="lift the bar")
    say(LinkNews(waiting, TroubleLine("link", lift, "The one that moves becomes this rack's.", True)))
    moving = await find_moving(radio, free, LIFT_S)
    if moving is None:
        return None  # asked still: the bar has not been lifted yet, or another one moved, too
    await _claim(choice, moving)
    choice.asked.clear()
    return Chosen(moving, note(f"{name_of(moving)} moved: it is this rack's from now on", ""))


async def _claim(choice: SensorChoice, sensor: SensorInRange, *, take_over: bool = False) -> str | None:
    if choice.book is None:
        return None
    return await asyncio.to_thread(
        lambda book: book.claim(sensor.address, sensor.name, choice.rack, take_over=take_over), choice.book
    )
