"""How samples arrive: packed, late by jitter and stalls, some packets lost in bursts."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from drivers.samples import SampleBlock
from simulated_sensor.trace import SensorTrace

_STALL_S = 0.15
_STALLS_PER_S = 0.05
_BURST_PACKETS = 3.0


def arrived(
    trace: SensorTrace, rng: np.random.Generator, *, per_packet: int = 10, lost_share: float = 0.0
) -> SampleBlock:
    """The trace as a host sees it: counter, and arrival time of each sample's packet.

    Packets that come twice are left out before anything is measured, and those that come late count as lost
    (`drivers.decode`): to a measurement there are lost ones only.

    Args:
        trace: the samples.
        rng: everything random follows from it.
        per_packet: samples a packet, 1 to 20.
        lost_share: share of packets lost, in bursts of three on average.
    """
    packets = np.arange(len(trace)) // per_packet
    count = int(packets[-1]) + 1
    filled = (np.minimum((np.arange(count) + 1) * per_packet, len(trace)) - 1) / trace.rate_hz
    late = 0.004 + rng.exponential(0.006, count) + _stalls(rng, filled)
    arrival = np.maximum.accumulate(filled + late)
    kept = ~_lost(rng, count, lost_share)[packets]
    return SampleBlock(
        np.arange(len(trace), dtype=np.int64)[kept],
        arrival[packets][kept],
        trace.acc_m_s2[kept],
        None if trace.gyr_rad_s is None else trace.gyr_rad_s[kept],
    )


def _stalls(rng: np.random.Generator, filled_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Extra lateness while the link stands still for 150 ms now and then."""
    late = np.zeros(len(filled_s))
    for start in rng.uniform(0, filled_s[-1], rng.poisson(_STALLS_PER_S * filled_s[-1])):
        held = (filled_s >= start) & (filled_s < start + _STALL_S)
        late[held] = start + _STALL_S - filled_s[held]
    return late


def _lost(rng: np.random.Generator, packets: int, share: float) -> NDArray[np.bool_]:
    """Lost packets as a two-state chain with that share of losses; the first second always arrives."""
    leave = 1.0 / _BURST_PACKETS
    enter = leave * share / max(1.0 - share, 1e-9)
    draws = rng.uniform(0, 1, packets)
    lost = np.zeros(packets, dtype=np.bool_)
    for i in range(20, packets):
        lost[i] = draws[i] < (1 - leave if lost[i - 1] else enter)
    return lost
