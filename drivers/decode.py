"""Notification bytes to samples, by the profile. Pure: bytes and arrival time in, samples in SI units out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from drivers.counting import Counting, Place, Ticks
from drivers.joining import Joiner, Part
from drivers.profile import SensorProfile, Stream
from drivers.samples import FloatArray, SampleBlock
from drivers.statistics import LinkStatistics

_GAP_S = 0.5  # without a counter, silence this long is taken for lost samples


class DecodeError(Exception):
    """A notification that does not fit the profile. It was counted, and nothing of it is used."""


class _StreamDecoder:
    """Reads the packets of one characteristic."""

    def __init__(self, stream: Stream, rate_hz: float) -> None:
        self.stream = stream
        self.statistics = LinkStatistics(inferred=not stream.counter_wrap)
        self._rate_hz = rate_hz
        self._counting: Counting | None = None
        self._next_count = 0
        self._ticks = Ticks(stream.time_wrap, stream.time_unit_s) if stream.time_unit_s else None
        self._next_seq = 0
        self._last_arrival_s: float | None = None
        self._last_stamp_s: float | None = None

    def relink(self) -> None:
        """The connection was made anew."""
        if self._counting:
            self._counting.relink()

    def decode(self, payload: bytes | bytearray, host_time_s: float) -> Part | None:
        """The samples of one packet; None when it brings nothing new."""
        self.statistics = self.statistics.plus(packets=1)
        try:
            header, axes = self._unpack(payload)
        except DecodeError:
            self.statistics = self.statistics.plus(malformed=1)
            raise
        n, restarts = len(axes), self.statistics.restarts
        lost = (
            self._lost_by_counter(int(header["counter"]), n, host_time_s) if self.stream.counter_wrap else 0
        )
        if lost is None:
            return None
        stamp_s = None if self._ticks is None else self._ticks.carry_on(float(header["time"]), host_time_s)
        if not self.stream.counter_wrap:
            lost = self._lost_by_time(n, host_time_s, stamp_s)
            if lost is None:
                return None
        first = self._next_seq + lost
        self._next_seq, self._last_arrival_s, self._last_stamp_s = first + n, host_time_s, stamp_s
        self.statistics = self.statistics.plus(samples=n, lost_samples=lost)
        device = None if stamp_s is None else stamp_s + np.arange(n) / self._rate_hz
        anew = self.statistics.restarts > restarts
        return Part(np.arange(first, first + n, dtype=np.int64), device, host_time_s, axes, anew)

    def _unpack(self, payload: bytes | bytearray) -> tuple[np.void, FloatArray]:
        stream = self.stream
        start, size = stream.header.itemsize, stream.sample.itemsize
        if len(payload) < start + size:
            raise DecodeError(f"a packet of {len(payload)} bytes is too short for the profile's layout")
        header = np.frombuffer(payload, stream.header, 1)[0] if start else np.void(b"")
        fields = stream.header.names or ()
        if any(not np.isfinite(header[name]) for name in fields if header.dtype[name].kind == "f"):
            raise DecodeError("the header of a packet holds something that is no number")
        n = int(header["count"]) if "count" in fields else stream.samples or (len(payload) - start) // size
        if n < 1 or len(payload) != start + n * size:
            raise DecodeError(f"a packet of {len(payload)} bytes does not fit the profile's layout")
        samples = np.frombuffer(payload, stream.sample, n, start)
        axes = np.column_stack([samples[axis] for axis in stream.axes]).astype(np.float64)
        if not np.isfinite(axes).all():
            raise DecodeError("a packet holds readings that are no numbers")
        return header, axes

    def _lost_by_counter(self, raw: int, n: int, host_time_s: float) -> int | None:
        """How many samples are missing before this packet; None when it is not to be used."""
        in_packets = self.stream.counter_counts == "packets"
        counts, samples_per_count = (1, n) if in_packets else (n, 1)
        if self._counting is None:
            self._counting = Counting(self.stream.counter_wrap, self._rate_hz / samples_per_count)
        counted = self._counting.take(raw, counts, host_time_s)
        match counted.place:
            case Place.DUPLICATE:
                self.statistics = self.statistics.plus(duplicates=1)
            case Place.LATE:
                self.statistics = self.statistics.plus(reordered=1)
            case Place.DOUBTFUL:
                self.statistics = self.statistics.plus(malformed=1)
            case Place.NEXT | Place.RESTARTED:
                self.statistics = self.statistics.plus(restarts=counted.place is Place.RESTARTED)
                if self._last_arrival_s is None:
                    self._next_count = counted.count
                    self._next_seq = counted.count * samples_per_count
                lost = (counted.count - self._next_count) * samples_per_count
                self._next_count = counted.count + counts
                return lost
        return None

    def _lost_by_time(self, n: int, host_time_s: float, stamp_s: float | None) -> int | None:
        """The same for a sensor that does not count: inferred from its time stamps, else from a long silence."""
        if self._last_arrival_s is None:
            return 0
        if stamp_s is not None and self._last_stamp_s is not None:
            if stamp_s == self._last_stamp_s:
                self.statistics = self.statistics.plus(duplicates=1)
                return None
            return max(0, round((stamp_s - self._last_stamp_s) * self._rate_hz) - n)
        silence_s = host_time_s - self._last_arrival_s
        return max(0, round(silence_s * self._rate_hz) - n) if silence_s > _GAP_S else 0


class Decoder:
    """Turns the notifications of one sensor into samples.

    Args:
        profile: how to read them.
    """

    def __init__(self, profile: SensorProfile) -> None:
        self._profile = profile
        self._streams = {
            stream.characteristic: _StreamDecoder(stream, profile.rate_hz) for stream in profile.streams
        }
        self._joiner = Joiner(max(64, round(profile.rate_hz))) if len(profile.streams) == 2 else None

    @property
    def statistics(self) -> LinkStatistics:
        """What came in so far; of two streams the packets of both and the samples that became whole."""
        first, *others = (stream.statistics for stream in self._streams.values())
        for other in others:
            first = first.plus(
                packets=other.packets,
                duplicates=other.duplicates,
                reordered=other.reordered,
                malformed=other.malformed,
                restarts=other.restarts,
            )
        if self._joiner:
            return replace(first, samples=self._joiner.samples, lost_samples=self._joiner.lost_samples)
        return first

    def relink(self) -> None:
        """Say that the connection was made anew, so that a loss or a restarted counter is no surprise."""
        for stream in self._streams.values():
            stream.relink()

    def decode(
        self, characteristic: str, payload: bytes | bytearray, host_time_s: float
    ) -> SampleBlock | None:
        """Read one notification.

        Args:
            characteristic: 128-bit UUID of the characteristic that notified.
            payload: the bytes, as they came.
            host_time_s: monotonic arrival time, s.

        Returns:
            The samples; None when the packet brings none that are new (doubled, late, or one half of a pair).

        Raises:
            DecodeError: when the bytes do not fit the profile. Nothing else, whatever the bytes.
        """
        part = self._streams[characteristic].decode(payload, host_time_s)
        if part is None:
            return None
        axes = self._profile.streams[0].axes
        if self._joiner:
            part = self._joiner.add(list(self._streams).index(characteristic), part)
            axes += self._profile.streams[1].axes
        return None if part is None else self._block(part, axes)

    def _block(self, part: Part, names: tuple[str, ...]) -> SampleBlock:
        acc = part.axes[:, [names.index(name) for name in ("acc_x", "acc_y", "acc_z")]]
        gyr = None
        if self._profile.rotation is not None:
            columns = [names.index(name) for name in ("gyr_x", "gyr_y", "gyr_z")]
            gyr = part.axes[:, columns] * self._profile.rotation.factor
        host_time_s = np.full(len(part.seq), part.host_time_s)
        return SampleBlock(
            part.seq,
            host_time_s,
            acc * self._profile.acceleration.factor,
            gyr,
            part.device_time_s,
            part.counts_anew,
        )
