"""Samples to notification bytes by a sensor profile: the other direction of `drivers.decode`."""

from __future__ import annotations

from typing import Any

import numpy as np

from drivers.profile import AXES, SensorProfile, Stream
from drivers.samples import FloatArray


class PacketWriter:
    """Lays samples out as the sensor of a profile does.

    Args:
        profile: the sensor to be.
    """

    def __init__(self, profile: SensorProfile) -> None:
        self._profile = profile
        self._packets = 0

    def restart(self) -> None:
        """Begin counting packets anew, as after a reset."""
        self._packets = 0

    def samples_per_packet(self, wanted: int, payload_limit: int) -> int:
        """How many samples fit into a notification of this many bytes; at least one."""
        streams = self._profile.streams
        fixed = [stream.samples for stream in streams if stream.samples]
        if fixed:
            return fixed[0]
        fit = [(payload_limit - stream.header.itemsize) // stream.sample.itemsize for stream in streams]
        return max(1, min(wanted, *fit))

    def write(
        self,
        first: int,
        acc_m_s2: FloatArray,
        gyr_rad_s: FloatArray | None,
        stamp_s: float | None = None,
    ) -> list[tuple[str, bytes]]:
        """One packet on each of the sensor's streams.

        Args:
            first: counter of the first sample.
            acc_m_s2, gyr_rad_s: the samples, shapes (n, 3); numbers beyond the range are clipped as in a sensor.
            stamp_s: the sensor's time stamp of the first sample; None: counted from its start.

        Returns:
            Characteristic and bytes.
        """
        n = len(acc_m_s2)
        gyr = np.zeros((n, 3)) if gyr_rad_s is None else gyr_rad_s
        rotation = self._profile.rotation
        raw = np.hstack(
            [acc_m_s2 / self._profile.acceleration.factor, gyr / (rotation.factor if rotation else 1.0)]
        )
        packets = [
            (stream.characteristic, self._packet(stream, first, raw, stamp_s))
            for stream in self._profile.streams
        ]
        self._packets += 1
        return packets

    def _packet(self, stream: Stream, first: int, raw: FloatArray, stamp_s: float | None) -> bytes:
        header = np.zeros(1, stream.header)
        names = stream.header.names or ()
        if "counter" in names:
            count = first if stream.counter_counts == "samples" else self._packets
            header["counter"] = count % stream.counter_wrap
        if "time" in names:
            header["time"] = self._ticks(
                stream, first / self._profile.rate_hz if stamp_s is None else stamp_s
            )
        if "count" in names:
            header["count"] = len(raw)
        samples = np.zeros(len(raw), stream.sample)
        for axis in stream.axes:
            samples[axis] = _as_stored(raw[:, AXES.index(axis)], stream.sample[axis])
        return header.tobytes() + samples.tobytes()

    @staticmethod
    def _ticks(stream: Stream, stamp_s: float) -> float:
        ticks = stamp_s / stream.time_unit_s
        if stream.header["time"].kind != "f":
            ticks = int(ticks)
        return ticks % stream.time_wrap if stream.time_wrap else ticks


def _as_stored(values: FloatArray, kind: np.dtype[Any]) -> FloatArray:
    if kind.kind == "f":
        return values
    limits = np.iinfo(kind)
    return np.clip(np.rint(values), limits.min, limits.max)
