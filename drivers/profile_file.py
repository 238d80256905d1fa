"""Reading a sensor profile from TOML. Whatever is wrong in it is said with file and line."""

from __future__ import annotations

from pathlib import Path
from typing import Literal, cast

import numpy as np

from drivers.profile import AXES, BATTERY_LEVEL, Scale, SensorProfile, Stream, Write
from drivers.toml_table import ProfileError, Table, TomlFile

STANDARD_GRAVITY_M_S2 = 9.80665
_ACCELERATION_UNITS = {"m/s2": 1.0, "g": STANDARD_GRAVITY_M_S2, "mg": STANDARD_GRAVITY_M_S2 / 1000.0}
_ROTATION_UNITS = {"rad/s": 1.0, "deg/s": np.pi / 180.0, "mdeg/s": np.pi / 180_000.0}
_TYPES = {
    **{f"int{bits}": f"i{bits // 8}" for bits in (8, 16, 32, 64)},
    **{f"uint{bits}": f"u{bits // 8}" for bits in (8, 16, 32, 64)},
    "float32": "f4",
    "float64": "f8",
}
_HEADER_FIELDS = ("counter", "time", "count")
_MAX_PACKET = 512  # a GATT value holds no more (Bluetooth Core Specification, Vol 3, Part F, 3.2.9)
_TOP = {"name", "about", "rate_hz", "match", "stream", "acceleration", "rotation", "start", "stop", "battery"}
_STREAM = {"characteristic", "byte_order", "header", "sample", "samples"} | {
    "counter_counts",
    "counter_wrap",
    "time_unit_s",
    "time_wrap",
}
_SCALE = {"unit", "divide_by", "multiply_by", "range"}
_WRITE = {"characteristic", "data", "response"}


def load_profile(path: Path | str) -> SensorProfile:
    """Read a profile file.

    Raises:
        ProfileError: when it cannot be read, is not TOML, or does not make sense.
    """
    try:
        text = Path(path).read_text(encoding="utf-8")
    except OSError as error:
        raise ProfileError(str(path), 1, f"cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise ProfileError(str(path), 1, "is not UTF-8 text") from error
    return parse_profile(text, str(path))


def parse_profile(text: str, file: str) -> SensorProfile:
    """Make a profile from the text of a file; `file` is its name, for messages.

    Raises:
        ProfileError: when the text is not TOML, or does not make sense.
    """
    toml = TomlFile(text, file)
    top = Table(toml, toml.tables, _TOP)
    match = top.table("match", {"name", "service"})
    if "name" not in match and "service" not in match:
        match.refuse(None, "a sensor is found by 'name', by 'service', or by both: give at least one")
    streams = top.several("stream", _STREAM)
    if not 1 <= len(streams) <= 2:
        top.refuse("stream", "there must be one [[stream]], or two to be joined")
    read = tuple(_stream(stream) for stream in streams)
    rotation = _check_axes(streams, read)
    if rotation != ("rotation" in top):
        at = "rotation" if "rotation" in top else None
        top.refuse(at, "a [rotation] table belongs to a stream with gyr_x, gyr_y and gyr_z, and only to such")
    battery = top.table("battery", {"characteristic"}) if "battery" in top else None
    return SensorProfile(
        name=top.text("name"),
        about=top.text("about", ""),
        match_name=match.text("name") if "name" in match else None,
        match_service=match.uuid("service") if "service" in match else None,
        rate_hz=top.positive("rate_hz"),
        streams=read,
        acceleration=_scale(top.table("acceleration", _SCALE), _ACCELERATION_UNITS),
        rotation=_scale(top.table("rotation", _SCALE), _ROTATION_UNITS) if rotation else None,
        start=_writes(top, "start"),
        stop=_writes(top, "stop"),
        battery=None
        if battery is None
        else battery.uuid("characteristic")
        if "characteristic" in battery
        else BATTERY_LEVEL,
    )


def _stream(table: Table) -> Stream:
    order = "<" if table.choice("byte_order", ("little", "big"), "little") == "little" else ">"
    header = _fields(table, "header", order, _HEADER_FIELDS)
    sample = _fields(table, "sample", order, AXES)
    if not sample.itemsize:
        table.refuse("sample", "'sample' has no axis in it")
    names = header.names or ()
    samples = table.whole("samples", 1, _MAX_PACKET, 1) if "samples" in table else 0
    if samples and "count" in names:
        table.refuse("samples", "'samples' and a 'count' in the header say the same thing: leave one out")
    if header.itemsize + max(samples, 1) * sample.itemsize > _MAX_PACKET:
        table.refuse("sample", f"a packet of this layout is longer than {_MAX_PACKET} bytes")
    counts = table.choice("counter_counts", ("samples", "packets"), "samples")
    unit_s = table.positive("time_unit_s") if "time" in names else 0.0
    for key, field in (
        ("counter_counts", "counter"),
        ("counter_wrap", "counter"),
        ("time_unit_s", "time"),
        ("time_wrap", "time"),
    ):
        if key in table and field not in names:
            table.refuse(key, f"'{key}' without a field '{field}' in the header")
    return Stream(
        table.uuid("characteristic"),
        header,
        sample,
        samples,
        cast(Literal["samples", "packets"], counts),
        _wrap(table, header, "counter"),
        unit_s,
        _wrap(table, header, "time"),
    )


def _fields(table: Table, key: str, order: str, allowed: tuple[str, ...]) -> np.dtype[np.void]:
    """A packed structure from a list such as ["counter uint32", "skip 2", "acc_x int16"]."""
    names: list[str] = []
    formats: list[str] = []
    for text in table.get(key, list, [] if key == "header" else None):
        name, _, kind = text.partition(" ") if isinstance(text, str) else ("", "", "")
        if name == "skip" and kind.isdecimal() and 1 <= int(kind) <= _MAX_PACKET:
            names.append(f"skip_{len(names)}")
            formats.append(f"V{int(kind)}")
        elif name in allowed and kind in _TYPES:
            if name in names:
                table.refuse(key, f"'{name}' is there twice")
            names.append(name)
            formats.append(order + _TYPES[kind])
        else:
            known = f'{", ".join(allowed)} with a type ({", ".join(_TYPES)}), or "skip N" for N bytes'
            table.refuse(key, f"cannot read the field {str(text)[:40]!r}; known here: {known}")
    return np.dtype({"names": names, "formats": formats})


def _wrap(table: Table, header: np.dtype[np.void], field: str) -> int:
    """After how many counts a counter or time stamp starts again: by default when its bits are used up."""
    if field not in (header.names or ()):
        return 0
    key = f"{field}_wrap"
    kind = header[field]
    if kind.kind == "f":
        if field == "counter":
            table.refuse("header", "the counter must be an unsigned whole number")
        return table.whole(key, 2, 2**53, 2**53) if key in table else 0
    if kind.kind != "u":
        table.refuse("header", f"the {field} must be an unsigned whole number")
    full = 2 ** (8 * kind.itemsize)
    wrap = table.whole(key, 2, full, min(full, 2**62))
    if field == "counter" and wrap < 4:
        table.refuse(key, "a counter that wraps this soon tells nothing")
    return wrap


def _check_axes(tables: list[Table], streams: tuple[Stream, ...]) -> bool:
    """All three axes of acceleration, once; all of rotation or none. Whether there is rotation."""
    axes = [axis for stream in streams for axis in stream.axes]
    for table, stream in zip(tables, streams, strict=True):
        for kind in ("acc", "gyr"):
            have = [axis for axis in stream.axes if axis.startswith(kind)]
            if have and len(have) != 3:
                table.refuse("sample", f"{kind}_x, {kind}_y and {kind}_z belong together in one sample")
    if axes.count("acc_x") != 1:
        tables[-1].refuse("sample", "acc_x, acc_y and acc_z must be there, once")
    if axes.count("gyr_x") > 1:
        tables[-1].refuse("sample", "gyr_x, gyr_y and gyr_z are there twice")
    if len(streams) == 2 and bool(streams[0].counter_wrap) != bool(streams[1].counter_wrap):
        tables[-1].refuse("header", "of two streams to be joined both have a counter, or none")
    if len(streams) == 2 and streams[0].characteristic == streams[1].characteristic:
        tables[-1].refuse("characteristic", "the two streams must be two characteristics")
    return "gyr_x" in axes


def _scale(table: Table, units: dict[str, float]) -> Scale:
    unit = units[table.choice("unit", tuple(units))]
    factor = unit * table.positive("multiply_by", 1.0) / table.positive("divide_by", 1.0)
    return Scale(float(factor), float(table.positive("range") * unit) if "range" in table else None)


def _writes(top: Table, key: str) -> tuple[Write, ...]:
    return tuple(
        Write(table.uuid("characteristic"), table.data("data"), table.get("response", bool, True))
        for table in top.several(key, _WRITE)
    )
