"""What a link received and lost, counted truthfully."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class LinkStatistics:
    """Counts since the link was first made.

    Attributes:
        packets: notifications that came in, of whatever kind.
        samples: samples handed on.
        lost_samples: samples that the counter shows to be missing, or that were inferred to be.
        duplicates: packets that had come before; not handed on.
        reordered: packets that came after later ones; not handed on, so their samples count as lost.
        malformed: packets that do not fit the profile, or whose counter makes no sense; not handed on.
        restarts: how often the sensor's counter began anew.
        inferred: the sensor has no counter, so losses are inferred from the time between packets.
    """

    packets: int = 0
    samples: int = 0
    lost_samples: int = 0
    duplicates: int = 0
    reordered: int = 0
    malformed: int = 0
    restarts: int = 0
    inferred: bool = False

    def plus(self, **more: int) -> LinkStatistics:
        """These counts with some of them raised."""
        return replace(self, **{name: getattr(self, name) + value for name, value in more.items()})
