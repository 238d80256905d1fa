"""The radio's side of a jump line: several belts at once, each told apart by its number."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from drivers.samples import SampleBlock
from station.capture.jump_line import JumpLine
from station.capture.link_news import LinkNews
from station.capture.link_source import SensorChoice, listen_to_sensor
from station.capture.threads import Touch


async def listen_to_belts(choices: Sequence[SensorChoice], hear: Callable[[Any], None]) -> None:
    """Find every belt and pass on what it sends, until cancelled; then let all of them go.

    Args:
        choices: which sensor each belt is, in their order.
        hear: takes what the jump line is to carry out.
    """
    async with asyncio.TaskGroup() as group:
        for number, choice in enumerate(choices):
            group.create_task(listen_to_sensor(choice, partial(_pass_on, hear, number)))


def _pass_on(hear: Callable[[Any], None], belt: int, item: SampleBlock | LinkNews) -> None:
    def carry_out(line: JumpLine) -> None:
        if isinstance(item, SampleBlock):
            line.belt_samples(belt, item)
        else:
            line.belt_link(belt, item)

    hear(Touch(carry_out))
