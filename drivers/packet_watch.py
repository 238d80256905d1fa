"""When packets came: silence, rate and jitter of a stream."""

from __future__ import annotations

import math


class PacketWatch:
    """Notes the arrival of packets, in constant memory."""

    def __init__(self) -> None:
        self._last_s = 0.0
        self._since_s = 0.0
        self._clear()

    def restart(self, now_s: float) -> None:
        """A stream begins now."""
        self._last_s = self._since_s = now_s
        self._clear()

    def packet(self, now_s: float) -> None:
        """A packet came."""
        gap_s = now_s - self._last_s
        self._last_s = now_s
        self._packets += 1
        if self._packets > 1:  # running mean and variance (Welford, Technometrics 1962;4:419)
            self._gaps += 1
            delta = gap_s - self._mean_s
            self._mean_s += delta / self._gaps
            self._spread += delta * (gap_s - self._mean_s)

    def silent_s(self, now_s: float) -> float:
        """Time since the last packet, or since the stream was started."""
        return now_s - self._last_s

    def summary(self, now_s: float) -> tuple[float, float | None]:
        """Packets a second and standard deviation of the time between them since the last summary, Hz and s."""
        length_s = now_s - self._since_s
        rate_hz = self._packets / length_s if length_s > 0.0 else 0.0
        jitter_s = math.sqrt(self._spread / (self._gaps - 1)) if self._gaps > 1 else None
        self._since_s = now_s
        self._clear()
        return rate_hz, jitter_s

    def _clear(self) -> None:
        self._packets = self._gaps = 0
        self._mean_s = self._spread = 0.0
