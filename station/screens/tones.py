"""When a tone is due: a full-range rep in the target band, and the stop. Nothing urges a further rep."""

from __future__ import annotations

import io
import math
import struct
import wave
from enum import StrEnum

from station.capture.rack_view import RackView, RepStatus
from station.readiness.within_set import in_band

RATE_HZ = 22_050
FULL_RANGE = 0.90  # of the set's longest rep
_RAMP_S = 0.012  # a tone that begins at once clicks


class Tone(StrEnum):
    """The two tones."""

    IN_BAND = "in band"
    STOP = "stop"


# A short high one, and a low one of two beats: told apart by pitch and by rhythm.
_BEATS: dict[Tone, tuple[tuple[float, float], ...]] = {
    Tone.IN_BAND: ((880.0, 0.16),),
    Tone.STOP: ((330.0, 0.18), (0.0, 0.08), (330.0, 0.30)),
}
_LOUDNESS = 0.6


def tone_due(before: RackView | None, now: RackView) -> Tone | None:
    """Which tone the newest picture calls for; the stop goes before the band.

    Only a rep that the picture before did not have sounds, so that a correction or a switch is silent.
    """
    if not now.settings.sound or now.set is None or not now.set.reps or not now.set.is_open:
        return None
    same_set = before is not None and before.set is not None and before.set.set_id == now.set.set_id
    had = len(before.set.reps) if same_set and before is not None and before.set is not None else 0
    rep = now.set.reps[-1]
    if len(now.set.reps) <= had or rep.status is not RepStatus.MEASURED or rep.mean_velocity_m_s is None:
        return None
    if now.set.stop_reached:
        return Tone.STOP
    longest = max((r.displacement_m or 0.0 for r in now.set.reps), default=0.0)
    full = rep.displacement_m is not None and rep.displacement_m >= FULL_RANGE * longest
    band = now.target_band_m_s
    return Tone.IN_BAND if full and band and in_band(rep.mean_velocity_m_s, band) == "in" else None


def wave_bytes(tone: Tone) -> bytes:
    """The tone as a WAV file, 16 bit, one channel."""
    frames = bytearray()
    for pitch_hz, length_s in _BEATS[tone]:
        count = round(length_s * RATE_HZ)
        for n in range(count):
            ramp = min(1.0, n / RATE_HZ / _RAMP_S, (count - 1 - n) / RATE_HZ / _RAMP_S)
            value = _LOUDNESS * ramp * math.sin(2 * math.pi * pitch_hz * n / RATE_HZ)
            frames += struct.pack("<h", round(32_767 * value))
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(bytes(frames))
    return out.getvalue()
