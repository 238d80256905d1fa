"""Every kind of sensor the profiles describe can be simulated, found, and read over the air."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from drivers.profile import SensorProfile, shipped_profiles
from drivers.profile_file import parse_profile
from tests.drivers.test_decode import FLOATS, PAIR, SINGLE
from tests.radio.conftest import make_trace

OTHERS = [
    parse_profile(text.replace('name = "x"', 'name = "Other*"'), "test") for text in (SINGLE, FLOATS, PAIR)
]
KINDS = [*shipped_profiles(), *OTHERS]


@pytest.mark.parametrize(
    "profile", KINDS, ids=[*(p.name for p in shipped_profiles()), "batched", "floats", "pair"]
)
async def test_a_sensor_of_this_kind_is_read(air: Any, profile: SensorProfile) -> None:
    trace = make_trace(rate_hz=profile.rate_hz)
    name = (profile.match_name or "any").replace("*", "1")
    async with air() as there, there.linked(trace, name=name, profile=profile) as (held, _, _):
        await held.until_samples(20)
    n = held.samples
    step = profile.acceleration.factor
    acc = np.concatenate([block.acc_m_s2 for block in held.blocks])
    assert np.allclose(acc, trace.acc_m_s2[:n], rtol=0, atol=step / 2 + 1e-6)
    assert np.array_equal(held.seq, np.arange(n))
    if profile.rotation is not None:
        gyr = np.concatenate([block.gyr_rad_s for block in held.blocks if block.gyr_rad_s is not None])
        assert trace.gyr_rad_s is not None
        assert np.allclose(gyr, trace.gyr_rad_s[:n], rtol=0, atol=profile.rotation.factor / 2 + 1e-6)
