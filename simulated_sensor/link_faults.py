"""Faults at the sensor's queue: notifications lost, doubled, reordered, late, cut short, corrupt, or pure noise.

Within one connection LE delivers in order and whole; what happens here happens before the radio, or in the host
behind it. Faults of the radio itself (out of range, refused connections) are in `virtual_radio`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Packet = tuple[str, bytes]
LATE_S = (0.03, 0.15)


@dataclass(frozen=True, slots=True)
class FaultRates:
    """How often each fault happens, as a share of the notifications.

    Attributes:
        drop: never sent.
        double: sent twice.
        swap: sent after the following one: reordered.
        delay: held back together with all that follow, for 30 to 150 ms: late, in order.
        truncate: cut short.
        corrupt: some bytes are wrong.
        noise: replaced by random bytes of any length.
        silent: nothing is sent at all, though the connection stands.
    """

    drop: float = 0.0
    double: float = 0.0
    swap: float = 0.0
    delay: float = 0.0
    truncate: float = 0.0
    corrupt: float = 0.0
    noise: float = 0.0
    silent: bool = False


@dataclass(slots=True)
class FaultCount:
    """What has been done to the notifications so far."""

    dropped: int = 0
    doubled: int = 0
    swapped: int = 0
    delayed: int = 0
    truncated: int = 0
    corrupted: int = 0
    noise: int = 0


class FaultyQueue:
    """Does to notifications what the rates say; the same seed does the same.

    Attributes:
        rates: may be exchanged at any time.
        count: what was done.
    """

    def __init__(self, rates: FaultRates | None = None, seed: int = 1) -> None:
        self.rates = rates or FaultRates()
        self.count = FaultCount()
        self._rng = np.random.default_rng(seed)
        self._held: list[Packet] = []

    def hold_back_s(self) -> float:
        """How long the sensor's radio is late with what it sends next, s."""
        if not self._happens(self.rates.delay):
            return 0.0
        self.count.delayed += 1
        return float(self._rng.uniform(*LATE_S))

    def pass_on(self, packets: list[Packet]) -> list[Packet]:
        """The packets to send instead of these."""
        if self.rates == FaultRates():
            return packets
        if self.rates.silent:
            self.count.dropped += len(packets)
            return []
        return [sent for packet in packets for sent in self._one(packet)]

    def _one(self, packet: Packet) -> list[Packet]:
        rates, count = self.rates, self.count
        characteristic, payload = packet
        if self._happens(rates.drop):
            count.dropped += 1
            return []
        if self._happens(rates.noise):
            count.noise += 1
            payload = self._rng.bytes(int(self._rng.integers(0, 245)))
        if self._happens(rates.truncate):
            count.truncated += 1
            payload = payload[: int(self._rng.integers(0, max(1, len(payload))))]
        if self._happens(rates.corrupt):
            count.corrupted += 1
            payload = self._corrupt(payload)
        packet = (characteristic, payload)
        if not self._held and self._happens(rates.swap):
            count.swapped += 1
            self._held = [packet]
            return []
        sent = [packet, *self._held]
        self._held = []
        if self._happens(rates.double):
            count.doubled += 1
            sent.insert(0, packet)
        return sent

    def _happens(self, share: float) -> bool:
        return share > 0.0 and bool(self._rng.random() < share)

    def _corrupt(self, payload: bytes) -> bytes:
        changed = bytearray(payload)
        for _ in range(min(3, len(changed))):
            changed[int(self._rng.integers(len(changed)))] ^= int(self._rng.integers(1, 256))
        return bytes(changed)
