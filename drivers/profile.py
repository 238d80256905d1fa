"""A sensor profile: what it takes to find somebody's sensor, start its stream and read its packets.

Profiles are TOML files (see `drivers/profiles`); reading one is in `profile_file`. Adding a sensor is adding a file.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from importlib import resources
from typing import Literal

import numpy as np

AXES = ("acc_x", "acc_y", "acc_z", "gyr_x", "gyr_y", "gyr_z")
BATTERY_LEVEL = "00002a19-0000-1000-8000-00805f9b34fb"  # Bluetooth SIG assigned number 0x2A19
_BASE_UUID = "0000{}-0000-1000-8000-00805f9b34fb"  # SIG base UUID for 16-bit assigned numbers
_NAME_LIMIT = 40


@dataclass(frozen=True, slots=True)
class Stream:
    """One characteristic that notifies, and how its packets are laid out.

    Attributes:
        header: fields before the samples: any of `counter`, `time`, `count`.
        sample: the fields of one sample: axes.
        samples: samples in a packet; 0 when as many as the packet holds (or as `count` says).
        counter_counts: whether the counter counts samples (then it is that of the packet's first one) or packets.
        counter_wrap: the counter goes from `counter_wrap - 1` to 0; 0 when there is none.
        time_unit_s: s per tick of the sensor's time stamp; 0 when there is none.
        time_wrap: likewise for the time stamp, in ticks; 0 when it does not wrap (a floating-point one).
    """

    characteristic: str
    header: np.dtype[np.void]
    sample: np.dtype[np.void]
    samples: int
    counter_counts: Literal["samples", "packets"] = "samples"
    counter_wrap: int = 0
    time_unit_s: float = 0.0
    time_wrap: int = 0

    @property
    def axes(self) -> tuple[str, ...]:
        """The axes in its samples."""
        return tuple(name for name in AXES if name in (self.sample.names or ()))


@dataclass(frozen=True, slots=True)
class Scale:
    """How raw numbers become SI: multiply by `factor`; readings at `limit` (SI) or beyond are at the range limit."""

    factor: float
    limit: float | None


@dataclass(frozen=True, slots=True)
class Write:
    """Bytes to write to a characteristic."""

    characteristic: str
    data: bytes
    response: bool = True


@dataclass(frozen=True, slots=True)
class SensorProfile:
    """Everything needed to read one kind of sensor.

    Attributes:
        name: what people call this kind of sensor.
        about: what they should know about it.
        match_name: pattern of the advertised name (`*` and `?`), or None.
        match_service: 128-bit UUID of a service it advertises, or None.
        rate_hz: nominal sample rate.
        streams: one characteristic, or two to be joined (acceleration and rotation).
        acceleration, rotation: scales; rotation is None for a sensor without a gyro.
        start, stop: writes before the stream and after it.
        battery: characteristic with the battery level in percent, or None.
    """

    name: str
    about: str
    match_name: str | None
    match_service: str | None
    rate_hz: float
    streams: tuple[Stream, ...]
    acceleration: Scale
    rotation: Scale | None
    start: tuple[Write, ...]
    stop: tuple[Write, ...]
    battery: str | None

    @property
    def counts(self) -> bool:
        """Whether the sensor counts its samples; without it losses can only be inferred."""
        return all(stream.counter_wrap for stream in self.streams)

    def describe(self) -> str:
        """What this profile will read, in words."""
        lines = [f"{self.name}: {self.about}" if self.about else self.name]
        found_by = [
            f"the name {self.match_name!r}" if self.match_name else "",
            f"the advertised service {self.match_service}" if self.match_service else "",
        ]
        lines.append(f"Found by {' or '.join(filter(None, found_by))}.")
        lines += [_describe_stream(stream) for stream in self.streams]
        limit = self.acceleration.limit
        reach = f" up to {limit:.1f} m/s2" if limit else ""
        lines.append(
            f"Nominally {self.rate_hz:g} samples a second; one step of acceleration is "
            f"{self.acceleration.factor:.6g} m/s2{reach}."
        )
        if not self.counts:
            lines.append(
                "No sample counter: the driver numbers the samples, and losses can only be inferred."
            )
        if self.rotation is None:
            lines.append("No rotation: lifts are measured with more caution.")
        lines.append("Battery level is read." if self.battery else "No battery level.")
        return "\n".join(lines)


def _describe_stream(stream: Stream) -> str:
    count = f"{stream.samples} sample(s)" if stream.samples else "as many samples as fit"
    parts = [f"{stream.header.itemsize}-byte header"] if stream.header.itemsize else []
    if stream.counter_wrap:
        parts.append(f"a counter of {stream.counter_counts} that wraps at {stream.counter_wrap}")
    if stream.time_unit_s:
        parts.append(f"a time stamp in steps of {stream.time_unit_s:g} s")
    axes = ", ".join(stream.axes)
    with_ = f" with {', '.join(parts)}" if parts else ""
    size = stream.sample.itemsize
    return f"Packets of {stream.characteristic}{with_}; {count} of {size} bytes ({axes})."


def matching_profile(
    name: str | None, services: Sequence[str], profiles: Sequence[SensorProfile]
) -> SensorProfile | None:
    """The profile an advertisement belongs to: by a service if any fits, else by the name; None for a foreign device.

    Args:
        name: advertised name, or None.
        services: 128-bit UUIDs of the advertised services.
        profiles: those to choose from; earlier ones win.
    """
    for profile in profiles:
        if profile.match_service is not None and profile.match_service in services:
            return profile
    for profile in profiles:
        if profile.match_name is not None and fnmatchcase(name or "", profile.match_name):
            return profile
    return None


def full_uuid(text: str) -> str | None:
    """A UUID as the lower-case 128-bit string, from that or from a 16-bit assigned number; None if it is neither."""
    text = text.lower().removeprefix("0x")
    if re.fullmatch(r"[0-9a-f]{4}", text):
        return _BASE_UUID.format(text)
    return text if re.fullmatch(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", text) else None


def plain_text(text: str | None, limit: int = _NAME_LIMIT) -> str:
    """Text from the air (a name, a serial number) made safe to show: one line, printable, not too long."""
    shown = "".join(character if character.isprintable() else " " for character in text or "")
    shown = " ".join(shown.split())
    return shown if len(shown) <= limit else shown[: limit - 1] + "…"


@cache
def shipped_profiles() -> tuple[SensorProfile, ...]:
    """The profiles that come with the program, the project's own sensor first."""
    from drivers.profile_file import parse_profile

    files = [file for file in resources.files("drivers.profiles").iterdir() if file.name.endswith(".toml")]
    files.sort(key=lambda file: (file.name != "own_sensor.toml", file.name))
    return tuple(parse_profile(file.read_text(encoding="utf-8"), file.name) for file in files)
