"""Carrying a sensor's wrapping counter on without end, and telling lost, doubled, late and restarted apart."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from enum import Enum, auto

_SEEN_PACKETS = 64
_BELIEVED_AHEAD_S = 3.0
_RESTART_AFTER_BEHIND = 4
_RESTART_AFTER_AHEAD = 2
_KNOWN_AFTER_S = 2.0


class Place(Enum):
    """What a packet's counter says about it."""

    NEXT = auto()
    DUPLICATE = auto()
    LATE = auto()
    DOUBTFUL = auto()
    RESTARTED = auto()


@dataclass(frozen=True, slots=True)
class Counted:
    """Where a packet belongs: its first count, carried on without end, when its place is NEXT or RESTARTED."""

    place: Place
    count: int = 0


class Counting:
    """Carries one counter on.

    Within a connection packets come in order, so a packet that follows directly is believed whatever the time says;
    how many times a short counter wrapped during a loss is told by the time that passed. A counter that jumps is
    believed to have restarted only when the following packets go on from there: one corrupt packet is not a restart.

    Args:
        wrap: the counter goes from `wrap - 1` to 0.
        rate_hz: counts a second, nominally.
    """

    def __init__(self, wrap: int, rate_hz: float) -> None:
        self._wrap, self._rate_hz = wrap, rate_hz
        self._raw: int | None = None  # of the last packet taken, and its count carried on
        self._count = 0
        self._counts_in_packet = 1
        self._arrival_s = 0.0
        self._seen: deque[int] = deque(maxlen=_SEEN_PACKETS)
        self._doubtful: list[int] = []  # raw counters of packets in a row that do not fit
        self._relinked = False
        self._first = 0, 0.0  # count and arrival of the first packet

    def relink(self) -> None:
        """The connection was made anew: losses and restarts are both to be expected."""
        self._relinked = True

    def take(self, raw: int, counts: int, arrival_s: float) -> Counted:
        """Place a packet that holds `counts` counts from `raw` on."""
        raw %= self._wrap
        if self._raw is None:
            return self._accept(Place.NEXT, raw, counts, arrival_s, raw)
        ahead = (raw - self._raw) % self._wrap
        expected = (arrival_s - self._arrival_s) * self._rate_hz
        if ahead == self._counts_in_packet % self._wrap and not self._relinked:
            return self._accept(Place.NEXT, raw, counts, arrival_s, self._count + self._counts_in_packet)
        behind = self._wrap - ahead
        window = min(self._wrap // 4, _SEEN_PACKETS * self._counts_in_packet)
        if not self._relinked and (ahead == 0 or behind <= window) and expected < max(ahead, window) / 2:
            return self._doubt(Place.DUPLICATE if raw in self._seen else Place.LATE, raw, counts, arrival_s)
        ahead += self._wrap * max(0, round((expected - ahead) / self._wrap))
        believed = expected * 1.25 + _BELIEVED_AHEAD_S * self._rate_hz
        if ahead >= self._counts_in_packet and ahead <= max(believed, self._wrap - 1 if self._short else 0):
            return self._accept(Place.NEXT, raw, counts, arrival_s, self._count + ahead)
        if self._relinked:
            return self._restart(raw, counts, arrival_s)
        return self._doubt(Place.DOUBTFUL, raw, counts, arrival_s)

    @property
    def _short(self) -> bool:
        """Whether the counter wraps so soon that a jump within it is never beyond belief."""
        return self._wrap <= _BELIEVED_AHEAD_S * self._rate_hz

    def _doubt(self, place: Place, raw: int, counts: int, arrival_s: float) -> Counted:
        goes_on = bool(self._doubtful) and (raw - self._doubtful[-1]) % self._wrap == counts % self._wrap
        self._doubtful = [*self._doubtful, raw] if goes_on else [raw]
        needed = _RESTART_AFTER_AHEAD if place is Place.DOUBTFUL else _RESTART_AFTER_BEHIND
        if len(self._doubtful) >= needed:
            return self._restart(raw, counts, arrival_s)
        return Counted(place)

    def _restart(self, raw: int, counts: int, arrival_s: float) -> Counted:
        """Carry on from the time that passed, since the counter no longer tells."""
        passed = round((arrival_s - self._arrival_s) * self._own_rate_hz())
        count = self._count + max(self._counts_in_packet, passed)
        self._seen.clear()
        return self._accept(Place.RESTARTED, raw, counts, arrival_s, count)

    def _own_rate_hz(self) -> float:
        """Counts a second of this very sensor, once counted for a while; until then the nominal ones."""
        first_count, first_s = self._first
        counted_s = self._arrival_s - first_s
        return (self._count - first_count) / counted_s if counted_s > _KNOWN_AFTER_S else self._rate_hz

    def _accept(self, place: Place, raw: int, counts: int, arrival_s: float, count: int) -> Counted:
        if self._raw is None:
            self._first = count, arrival_s
        self._raw, self._count, self._counts_in_packet, self._arrival_s = raw, count, counts, arrival_s
        self._seen.append(raw)
        self._doubtful = []
        self._relinked = False
        return Counted(place, count)


class Ticks:
    """Carries a sensor's wrapping time stamp on; one that starts anew goes on from the time that passed.

    Args:
        wrap: the stamp goes from `wrap - 1` to 0; 0 when it does not wrap.
        unit_s: s per tick.
    """

    def __init__(self, wrap: int, unit_s: float) -> None:
        self._wrap, self._unit_s = wrap, unit_s
        self._last: tuple[float, float] | None = None  # raw, arrival
        self._offset = 0.0  # from raw to carried on: the wraps, and what a new start took away

    def carry_on(self, raw: float, arrival_s: float) -> float:
        """The stamp without its wraps, s."""
        if self._last is not None:
            last_raw, last_arrival_s = self._last
            expected = (arrival_s - last_arrival_s) / self._unit_s
            wraps = 0.0
            if self._wrap:
                wraps = self._wrap if raw < last_raw else 0.0
                wraps += self._wrap * max(0, round((expected - (raw - last_raw + wraps)) / self._wrap))
            ahead = raw - last_raw + wraps
            if not 0.0 <= ahead <= expected * 1.25 + _BELIEVED_AHEAD_S / self._unit_s:
                wraps += max(expected, 0.0) - ahead
            self._offset += wraps
        self._last = raw, arrival_s
        return (raw + self._offset) * self._unit_s
