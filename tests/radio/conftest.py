"""The radio is a parameter of these tests: `--radio bumble` (virtual, always) or `--radio bluez` (in the guest).

The ladder: an air with a radio on it -> a sensor on the air -> a link that holds the sensor. Tests are coroutines.
"""

from __future__ import annotations

import asyncio
import inspect
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
import pytest

pytest.importorskip("bumble")

from drivers.link import SensorLink
from drivers.link_events import LinkEvent, LinkReport, LinkState, StateChanged
from drivers.profile import SensorProfile
from drivers.radio import Radio
from drivers.samples import SampleBlock
from simulated_sensor.peripheral import SensorSettings, SimulatedSensor
from simulated_sensor.serve import plug_in
from simulated_sensor.trace import SensorTrace
from simulated_sensor.virtual_controller import VirtualController
from simulated_sensor.virtual_radio import VirtualRadio

T = TypeVar("T")
PATIENCE_S = 30.0  # a wait that takes this long has failed; nothing is measured by it


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--radio", choices=("bumble", "bluez"), default="bumble", help="which radio the tests use"
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    here = str(config.rootpath / "tests" / "radio")
    for item in items:
        if str(item.path).startswith(here):
            item.add_marker(pytest.mark.radio)


@pytest.hookimpl(tryfirst=True)
def pytest_pyfunc_call(pyfuncitem: pytest.Function) -> bool | None:
    """Run tests that are coroutines, each on a loop of its own."""
    if not inspect.iscoroutinefunction(pyfuncitem.obj):
        return None
    arguments = {name: pyfuncitem.funcargs[name] for name in pyfuncitem._fixtureinfo.argnames}
    asyncio.run(pyfuncitem.obj(**arguments))
    return True


@dataclass
class Held:
    """A link and all that it reported."""

    link: SensorLink
    profile: SensorProfile
    blocks: list[SampleBlock] = field(default_factory=list)
    events: list[LinkEvent] = field(default_factory=list)
    changed: asyncio.Event = field(default_factory=asyncio.Event)

    def on_samples(self, block: SampleBlock) -> None:
        self.blocks.append(block)
        self.changed.set()

    def on_event(self, event: LinkEvent) -> None:
        self.events.append(event)
        self.changed.set()

    @property
    def samples(self) -> int:
        return sum(map(len, self.blocks))

    @property
    def seq(self) -> np.ndarray:
        return np.concatenate([block.seq for block in self.blocks])

    def states(self) -> list[LinkState]:
        return [event.state for event in self.events if isinstance(event, StateChanged)]

    def words(self, state: LinkState) -> str:
        return next(
            event.words for event in self.events if isinstance(event, StateChanged) and event.state is state
        )

    async def until(self, condition: Callable[[], bool]) -> None:
        """Wait until something is so; looked at whenever samples or events come."""
        async with asyncio.timeout(PATIENCE_S):
            while not condition():
                self.changed.clear()
                await self.changed.wait()

    async def until_state(self, state: LinkState, since: int = 0) -> None:
        await self.until(
            lambda: any(e.state is state for e in self.events[since:] if isinstance(e, StateChanged))
        )

    async def until_samples(self, more: int) -> None:
        wanted = self.samples + more
        await self.until(lambda: self.samples >= wanted)

    async def next_report(self) -> LinkReport:
        since = len(self.events)
        await self.until(lambda: any(isinstance(event, LinkReport) for event in self.events[since:]))
        return next(event for event in self.events[since:] if isinstance(event, LinkReport))


class Air:
    """A virtual link, the radio of the station on it, and whatever else is put there."""

    def __init__(self, virtual: VirtualRadio, radio: Radio, kind: str) -> None:
        self.virtual, self.radio, self.kind = virtual, radio, kind

    @asynccontextmanager
    async def sensor(
        self, trace: SensorTrace | None = None, **settings: Any
    ) -> AsyncIterator[tuple[SimulatedSensor, VirtualController]]:
        """A sensor on the air."""
        sensor = SimulatedSensor(trace or make_trace(), SensorSettings(**settings))
        controller = await plug_in(sensor, self.virtual)
        try:
            yield sensor, controller
        finally:
            await sensor.stop()
            controller.remove()

    @asynccontextmanager
    async def link(
        self, address: str, profile: SensorProfile, radio: Radio | None = None
    ) -> AsyncIterator[Held]:
        """A link to a sensor, by the station's radio if no other is named."""
        held: Held | None = None

        def on_samples(block: SampleBlock) -> None:
            assert held is not None
            held.on_samples(block)

        def on_event(event: LinkEvent) -> None:
            assert held is not None
            held.on_event(event)

        link = SensorLink(radio or self.radio, address, profile, on_samples, on_event, name="the sensor")
        held = Held(link, profile)
        async with link:
            yield held

    @asynccontextmanager
    async def linked(
        self, trace: SensorTrace | None = None, **settings: Any
    ) -> AsyncIterator[tuple[Held, SimulatedSensor, VirtualController]]:
        """A sensor on the air and a link to it that receives."""
        async with AsyncExitStack() as stack:
            sensor, controller = await stack.enter_async_context(self.sensor(trace, **settings))
            held = await stack.enter_async_context(self.link(sensor.address, sensor.settings.profile))
            await held.until_state(LinkState.STREAMING)
            yield held, sensor, controller


def make_trace(samples: int = 4000, rate_hz: float = 203.0, seed: int = 1) -> SensorTrace:
    """Noise that fits the own sensor's numbers exactly: what is sent is what is received."""
    rng = np.random.default_rng(seed)
    acc_step, gyr_step = 9.80665 / 2048, np.radians(1 / 16.384)
    acc, gyr = rng.integers(-4000, 4000, (2, samples, 3))
    return SensorTrace(rate_hz, acc * acc_step, gyr * gyr_step)


@pytest.fixture
def air(request: pytest.FixtureRequest) -> Callable[[], Any]:
    """Opens an air: `async with air() as there`."""
    kind = request.config.getoption("--radio", default="bumble")

    @asynccontextmanager
    async def open_air() -> AsyncIterator[Air]:
        async with VirtualRadio() as virtual:
            if kind == "bumble":
                transport = await virtual.open_port("station")
                async with Radio(transport) as radio:
                    yield Air(virtual, radio, kind)
            else:
                from tests.bluez_guest.adapter import bluez_adapter

                async with bluez_adapter(virtual.link), Radio() as radio:
                    yield Air(virtual, radio, kind)

    return open_air
