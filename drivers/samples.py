"""What a sensor delivers, as values: blocks of samples before and after their times are known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False, slots=True)
class SampleBlock:
    """Consecutive samples as they arrived, in SI units, on the sensor's own axes.

    Attributes:
        seq: sample counter, shape (n,), unwrapped; gaps are lost samples.
        host_time_s: monotonic arrival time of the packet that held each sample, shape (n,), s.
        acc_m_s2: specific force, shape (n, 3), m/s2; at rest its magnitude is about 9.81.
        gyr_rad_s: angular rate, shape (n, 3), rad/s, or None for a sensor without a gyro.
        device_time_s: the sensor's own time stamp, shape (n,), s, unwrapped, or None.
        counts_anew: the sensor's counter began anew with the first of these samples; `seq` goes on from the time that
            passed, which is known by arrivals alone.
    """

    seq: IntArray
    host_time_s: FloatArray
    acc_m_s2: FloatArray
    gyr_rad_s: FloatArray | None = None
    device_time_s: FloatArray | None = None
    counts_anew: bool = False

    def __len__(self) -> int:
        return len(self.seq)

    def slice(self, start: int, stop: int) -> SampleBlock:
        """The samples from `start` up to `stop`, as a block of their own."""
        part = slice(start, stop)
        return SampleBlock(
            self.seq[part],
            self.host_time_s[part],
            self.acc_m_s2[part],
            None if self.gyr_rad_s is None else self.gyr_rad_s[part],
            None if self.device_time_s is None else self.device_time_s[part],
            self.counts_anew and start == 0,
        )


@dataclass(frozen=True, eq=False, slots=True)
class TimedBlock:
    """Consecutive samples on the recovered clock: what the motion engine reads.

    Attributes:
        time_s: sample times, shape (n,), s since the first sample of the stream, increasing.
        seq: sample counter, shape (n,); gaps are lost samples.
        acc_m_s2: specific force, shape (n, 3), m/s2.
        gyr_rad_s: angular rate, shape (n, 3), rad/s, or None.
    """

    time_s: FloatArray
    seq: IntArray
    acc_m_s2: FloatArray
    gyr_rad_s: FloatArray | None = None

    def __len__(self) -> int:
        return len(self.seq)

    def slice(self, start: int, stop: int) -> TimedBlock:
        """The samples from `start` up to `stop`, as a block of their own."""
        part = slice(start, stop)
        return TimedBlock(
            self.time_s[part],
            self.seq[part],
            self.acc_m_s2[part],
            None if self.gyr_rad_s is None else self.gyr_rad_s[part],
        )


Block = TypeVar("Block", SampleBlock, TimedBlock)


def joined(blocks: Sequence[Block]) -> Block:
    """Several blocks with the same columns, at least one, as one."""
    first = blocks[0]
    names = [field.name for field in fields(first) if isinstance(getattr(first, field.name), np.ndarray)]
    columns: dict[str, Any] = {name: np.concatenate([getattr(one, name) for one in blocks]) for name in names}
    return replace(first, **columns)
