"""How the link was while a set was lifted, out of its kept samples: lost, late, beyond the sensor's range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivers.samples import SampleBlock

AT_THE_LIMIT = 0.995


@dataclass(frozen=True, slots=True)
class LinkQuality:
    """Counts of one set's raw samples.

    Attributes:
        received, lost: samples; losses by the sensor's counter.
        rate_hz: samples a second, taken over the whole.
        longest_hole_s: the longest stretch without samples.
        longest_wait_s: the longest time between two arrivals.
        clipped: samples at the limit of the sensor's range; None where the range is unknown.
    """

    received: int
    lost: int
    rate_hz: float
    longest_hole_s: float
    longest_wait_s: float
    clipped: int | None

    def in_words(self) -> str:
        """For the screen."""
        share = self.lost / max(self.received + self.lost, 1)
        lost = f"{self.lost} lost ({share:.1%}), longest hole {self.longest_hole_s:.2f} s"
        clipped = "" if not self.clipped else f" · {self.clipped} beyond the sensor's range"
        return (
            f"{self.received} samples at {self.rate_hz:.0f} Hz · {lost if self.lost else 'none lost'} · "
            f"longest wait for a packet {self.longest_wait_s:.2f} s{clipped}"
        )


def link_quality(raw: SampleBlock, range_m_s2: float | None) -> LinkQuality:
    """Of raw samples as they came.

    Args:
        range_m_s2: the sensor's range of acceleration.
    """
    steps, waits = np.diff(raw.seq), np.diff(raw.host_time_s)
    lost = int(np.maximum(steps - 1, 0).sum())
    span_s = float(raw.host_time_s[-1] - raw.host_time_s[0])
    rate = float(raw.seq[-1] - raw.seq[0]) / span_s if span_s > 0 else 0.0
    hole = float((steps.max(initial=1) - 1) / rate) if rate else 0.0
    clipped = None
    if range_m_s2 is not None:
        clipped = int((np.abs(raw.acc_m_s2) >= AT_THE_LIMIT * range_m_s2).any(axis=1).sum())
    return LinkQuality(len(raw), lost, rate, hole, float(waits.max(initial=0.0)), clipped)
