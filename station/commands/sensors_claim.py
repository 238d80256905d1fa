"""Giving a sensor to a rack from the command line, and finding the one a person means."""

from __future__ import annotations

from collections.abc import Callable

from rich.console import Console

from drivers.claim import Movement, find_moving
from drivers.profile import SensorProfile
from drivers.radio import Radio
from drivers.scan import SensorInRange, scan
from station.commands.fail import fail
from station.store.errors import ClaimedElsewhere
from station.store.sensor_book import SensorBook

LOOK_S = 3.0
FIND_S = 10.0
LIFT_S = 60.0


async def claim_sensor(
    transport: str | None,
    book: SensorBook,
    profiles: tuple[SensorProfile, ...],
    rack: str,
    named: str | None,
    *,
    take_over: bool,
) -> None:
    """Claim the sensor that is named, or the one that moves.

    Raises:
        ClaimedElsewhere: it belongs to another rack, and is not to be taken over.
    """
    known = next((s for s in book.sensors() if named and is_named(named, s.name, s.address)), None)
    if known is not None:  # one that is in use is not on the air
        address, name = known.address, known.name
    else:
        async with Radio(transport) as radio:
            if named is not None:
                sensor = await the_named_one(radio, profiles, named)
            else:
                sensor = await _the_moving_one(radio, book, profiles, rack, take_over=take_over)
        address, name = sensor.address, sensor.name
    before = book.claim(address, name, rack, take_over=take_over)
    said = f"{name or address} belongs to {rack} from now on" + (f"; {before} has none" if before else "")
    _say(said)


async def the_named_one(
    radio: Radio, profiles: tuple[SensorProfile, ...], named: str | None
) -> SensorInRange:
    """The sensor of this name or address; without one, the only sensor in range. Fails in a sentence."""

    def fits(sensor: SensorInRange) -> bool:
        return named is not None and is_named(named, sensor.name, sensor.address)

    enough: Callable[[list[SensorInRange]], bool] | None = None
    if named is not None:
        enough = lambda heard: any(map(fits, heard))  # noqa: E731
    heard = await scan(radio, LOOK_S if named is None else FIND_S, profiles, stop_when=enough)
    if named is not None:
        heard = [one for one in heard if fits(one)]
    if not heard:
        fail(
            f"{named or 'a sensor with a known profile'} is not in range; is it switched on, or in use at a rack?"
        )
    if named is None and len(heard) > 1:
        names = ", ".join(one.name or one.address for one in heard)
        fail(f"{len(heard)} sensors are in range ({names}); say which one")
    return heard[0]


async def _the_moving_one(
    radio: Radio, book: SensorBook, profiles: tuple[SensorProfile, ...], rack: str, *, take_over: bool
) -> SensorInRange:
    others = {one.address for one in book.sensors() if one.rack not in (None, rack)}
    heard = await scan(radio, LOOK_S, profiles)
    candidates = [one for one in heard if take_over or one.address not in others]
    if not candidates:
        if heard:
            one = heard[0]
            entry = book.of(one.address)
            raise ClaimedElsewhere(one.name or one.address, (entry.rack if entry else None) or "another rack")
        fail("no sensor with a known profile is in range; switch one on and bring it near")
    names = ", ".join(one.name or one.address for one in candidates)
    _say(f"Lift the bar of {rack}, and leave the others still. Listening to: {names}")
    ready: list[bool] = []

    def progress(movements: list[Movement]) -> None:
        if not ready and all(one.spread_m_s2 is not None for one in movements):
            ready.append(True)
            _say("All are heard. Lift now.")

    moving = await find_moving(radio, candidates, LIFT_S, on_progress=progress)
    if moving is None:
        fail("no sensor moved clearly more than the others; nothing was claimed")
    return moving


def is_named(named: str, name: str, address: str) -> bool:
    """Whether a person means this sensor."""
    return named.lower() in (name.lower(), address.lower())


def _say(words: str) -> None:
    # Names are untrusted text: never read as markup.
    Console(emoji=False).print(words, markup=False, highlight=False, soft_wrap=True)
