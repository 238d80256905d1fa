"""Traces on disk: a `.npz` with the truth beside the samples, or a recording (CSV, Parquet) to be played back."""

from __future__ import annotations

from dataclasses import asdict, fields
from pathlib import Path

import numpy as np

from drivers.clock import SampleClock
from drivers.recording import read_recording
from simulated_sensor.trace import SensorTrace, TrueRep

_TRUTH = tuple(field.name for field in fields(TrueRep))


def save_trace(path: Path, trace: SensorTrace) -> None:
    """Write a trace with its truth."""
    columns = {"rate_hz": np.array(trace.rate_hz), "acc_m_s2": trace.acc_m_s2}
    optional = {"gyr_rad_s": trace.gyr_rad_s, "seq": trace.seq}
    columns |= {name: values for name, values in optional.items() if values is not None}
    truth = np.array([[float(asdict(rep)[name]) for name in _TRUTH] for rep in trace.truth])
    np.savez(path, allow_pickle=False, truth=truth.reshape(-1, len(_TRUTH)), **columns)


def load_trace(path: Path) -> SensorTrace:
    """Read a trace, or a recording to be played back at the rate it was recorded with.

    Raises:
        RecordingError: when a recording is bad.
        ClockError: when it is too short to tell its rate.
        ValueError, OSError: when a `.npz` is not a trace.
    """
    if path.suffix != ".npz":
        return _playback(path)
    with np.load(path, allow_pickle=False) as stored:
        if not {"rate_hz", "acc_m_s2", "truth"} <= set(stored):
            raise ValueError(f"{path} is not a trace")
        truth = tuple(_true_rep(dict(zip(_TRUTH, row.tolist(), strict=True))) for row in stored["truth"])
        gyr, seq = stored.get("gyr_rad_s", None), stored.get("seq", None)
        return SensorTrace(float(stored["rate_hz"]), stored["acc_m_s2"], gyr, truth, seq)


def _true_rep(values: dict[str, float]) -> TrueRep:
    failed = bool(values.pop("failed"))
    return TrueRep(**values, failed=failed)


def _playback(path: Path) -> SensorTrace:
    samples = read_recording(path)
    clock = SampleClock()
    clock.time(samples)
    clock.finish()
    assert clock.rate_hz is not None
    return SensorTrace(
        clock.rate_hz,
        samples.acc_m_s2,
        samples.gyr_rad_s,
        seq=samples.seq - samples.seq[0],
        device_time_s=samples.device_time_s,
    )
