"""What the link counts is what a rep's flags say: from a sensor's bytes to the rep, without a radio."""

from __future__ import annotations

import contextlib
from collections.abc import Callable

import numpy as np
import pytest

from drivers.decode import DecodeError, Decoder
from drivers.profile import shipped_profiles
from drivers.statistics import LinkStatistics
from simulated_sensor.packets import PacketWriter
from simulated_sensor.planned_set import PlannedSet
from simulated_sensor.sessions import make_session_trace
from station.capture.link_news import SensorFacts
from station.capture.measurement import Measurement
from station.motion.events import RepMeasured
from tests.motion.streams import reps_of

OWN = shipped_profiles()[0]
IN_A_PACKET = 10
TRACE = make_session_trace([PlannedSet("back squat", (0.6, 0.6, 0.6), 0.6)], seed=5)
Packets = list[bytes]


def sent() -> Packets:
    writer = PacketWriter(OWN)
    assert TRACE.gyr_rad_s is not None
    return [
        writer.write(first, TRACE.acc_m_s2[first : first + IN_A_PACKET], TRACE.gyr_rad_s[first : first + 10])[
            0
        ][1]
        for first in range(0, len(TRACE) - IN_A_PACKET, IN_A_PACKET)
    ]


def received(packets: Packets) -> tuple[LinkStatistics, list[RepMeasured]]:
    """The packets, a twentieth of a second apart, a few ms late each."""
    decoder, measurement = Decoder(OWN), Measurement(None, SensorFacts(OWN.rate_hz, None))
    jitter_s = np.random.default_rng(1).gamma(2.0, 0.004, len(packets))
    events = []
    for n, payload in enumerate(packets):
        arrival_s = (n + 1) * IN_A_PACKET / TRACE.rate_hz + jitter_s[n]
        with contextlib.suppress(DecodeError):
            block = decoder.decode(OWN.streams[0].characteristic, payload, arrival_s)
            if block is not None:
                events += measurement.feed(block)
    return decoder.statistics, reps_of(events + measurement.engine.finish())


def lose(packets: Packets, n: int) -> None:
    del packets[n]


def swap(packets: Packets, n: int) -> None:
    packets[n], packets[n + 1] = packets[n + 1], packets[n]


def cut(packets: Packets, n: int) -> None:
    packets[n] = packets[n][:50]


def double(packets: Packets, n: int) -> None:
    packets.insert(n, packets[n])


@pytest.mark.parametrize(
    ("fault", "counted", "lost"),
    [(lose, None, 10), (swap, "reordered", 10), (cut, "malformed", 10), (double, "duplicates", 0)],
    ids=["never came", "came late", "cut short", "doubled"],
)
def test_a_rep_says_when_samples_of_it_were_lost_and_only_then(
    fault: Callable[[Packets, int], None], counted: str | None, lost: int
) -> None:
    second = TRACE.truth[1]
    middle = round(0.5 * (second.start_time_s + second.end_time_s) * TRACE.rate_hz) // IN_A_PACKET
    packets = sent()
    fault(packets, middle)
    statistics, reps = received(packets)
    assert statistics.lost_samples == lost
    assert counted is None or getattr(statistics, counted) == 1
    assert ["gap" in rep.flags for rep in reps] == [False, lost > 0, False]
