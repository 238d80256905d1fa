"""A profile is checked when it is read: what is wrong is said with file and line, and what is right in words."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.profile import BATTERY_LEVEL, full_uuid, matching_profile, plain_text, shipped_profiles
from drivers.profile_file import load_profile, parse_profile
from drivers.toml_table import ProfileError

GOOD = """\
name = "test"
rate_hz = 100
[match]
name = "Tag *"

[[stream]]
characteristic = "ff01"
header = ["counter uint16", "skip 2"]
sample = ["acc_x int16", "acc_y int16", "acc_z int16"]

[acceleration]
unit = "mg"
range = 8000

[[start]]
characteristic = "ff02"
data = "01 0a"
response = false

[battery]
"""


def test_a_good_profile_is_read_whole() -> None:
    profile = parse_profile(GOOD, "tag.toml")
    assert profile.rate_hz == 100.0
    assert profile.battery == BATTERY_LEVEL
    assert profile.acceleration.factor == pytest.approx(0.00980665)
    assert profile.acceleration.limit == pytest.approx(78.4532)
    assert profile.start[0].data == b"\x01\x0a"
    assert not profile.start[0].response
    assert profile.streams[0].counter_wrap == 65_536
    assert profile.counts


def test_a_sensor_is_recognised_by_its_service_and_else_by_its_name() -> None:
    own, *others = shipped_profiles()
    playback = next(profile for profile in others if profile.name == "Playback")
    known = shipped_profiles()
    assert matching_profile("anything", ["33ab0001-9f99-4ef2-b401-7570b8c56028"], known) is own
    assert matching_profile("Bar sensor 7", [], known) is own
    assert matching_profile("Bar sensor 7", ["33ab0011-9f99-4ef2-b401-7570b8c56028"], known) is playback
    assert matching_profile("Headphones", ["0000180f-0000-1000-8000-00805f9b34fb"], known) is None
    assert matching_profile(None, [], known) is None


def test_what_a_profile_reads_is_said_in_words() -> None:
    text = parse_profile(GOOD, "tag.toml").describe()
    assert "4-byte header, a counter of samples that wraps at 65536" in text
    assert "up to 78.5 m/s2" in text
    for profile in shipped_profiles():
        assert ("losses can only be inferred" in profile.describe()) is not profile.counts


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ('name = "test"', "name = test", 1, "TOML"),
        ("rate_hz = 100", "", 1, "'rate_hz' is missing"),
        ("rate_hz = 100", "rate_hz = -4", 2, "greater than zero"),
        ("rate_hz = 100", "rate_hz = true", 2, "must be a number"),
        ("rate_hz = 100", "rate_hz = nan", 2, "greater than zero"),
        ("rate_hz = 100", "rate = 100", 2, "unknown key 'rate'"),
        ('name = "Tag *"', "", 3, "at least one"),
        ('"ff01"', '"f01"', 7, "not a UUID"),
        ('"counter uint16"', '"counter int16"', 8, "unsigned"),
        ('"counter uint16"', '"counter uint12"', 8, "cannot read the field 'counter uint12'"),
        ('"skip 2"', '"skip 0"', 8, "cannot read"),
        ('"skip 2"', '"counter uint8"', 8, "twice"),
        ('"skip 2"', "7", 8, "cannot read"),
        (', "acc_z int16"', "", 9, "belong together"),
        ('"acc_x int16", "acc_y int16", "acc_z int16"', "", 9, "no axis"),
        (
            '"acc_x int16", "acc_y int16", "acc_z int16"',
            '"gyr_x int16", "gyr_y int16", "gyr_z int16"',
            9,
            "acc_x, acc_y and acc_z must be there",
        ),
        ('"acc_z int16"]', '"acc_z int16"]\nsamples = 600', 10, "from 1 to 512"),
        ('"acc_z int16"]', '"acc_z int16"]\nsamples = 90', 9, "longer than 512"),
        ('"acc_z int16"]', '"acc_z int16"]\ncounter_wrap = 70000', 10, "from 2 to 65536"),
        ('"acc_z int16"]', '"acc_z int16"]\ntime_unit_s = 0.1', 10, "without a field 'time'"),
        ('unit = "mg"', 'unit = "kg"', 12, "one of m/s2, g, mg"),
        ('unit = "mg"', 'unit = "mg"\ndivide_by = 0', 13, "greater than zero"),
        ('data = "01 0a"', 'data = "1 0a x"', 17, "hexadecimal"),
        ("response = false", 'response = "no"', 18, "true or false"),
        ("[battery]", "[rotation]\nunit = 'deg/s'", 20, "rotation"),
        ('[match]\nname = "Tag *"\n', "match = 3\n", 3, "must be a table"),
        ("[[stream]]", "[stream]", 6, "must be a list"),
    ],
)
def test_a_bad_profile_is_refused_with_file_and_line(old: str, new: str, line: int, words: str) -> None:
    assert old in GOOD
    with pytest.raises(ProfileError) as caught:
        parse_profile(GOOD.replace(old, new, 1), "tag.toml")
    assert words in str(caught.value)
    assert str(caught.value).startswith(f"tag.toml, line {line}: ")


def test_a_file_that_cannot_be_read_is_a_profile_error(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match="cannot be read"):
        load_profile(tmp_path / "none.toml")
    (tmp_path / "latin.toml").write_bytes(b'name = "\xe9"')
    with pytest.raises(ProfileError, match="UTF-8"):
        load_profile(tmp_path / "latin.toml")


@given(
    st.text(max_size=200)
    | st.integers(0, len(GOOD)).flatmap(lambda cut: st.just(GOOD[:cut] + "]" + GOOD[cut:]))
)
@settings(max_examples=150, deadline=None)
def test_any_text_is_a_profile_or_a_profile_error(text: str) -> None:
    with suppress(ProfileError):
        parse_profile(text, "any.toml")


def test_uuids_are_compared_as_128_bits() -> None:
    assert full_uuid("0x180F") == "0000180f-0000-1000-8000-00805f9b34fb"
    assert full_uuid("E95D0753-251D-470A-A062-FA1922DFA9A8") == "e95d0753-251d-470a-a062-fa1922dfa9a8"
    assert full_uuid("e95d0753251d470aa062fa1922dfa9a8") is None


def test_a_name_from_the_air_is_made_safe_to_show() -> None:
    assert plain_text("Bar\x00 \x1b[31msensor\n\u202e 1") == "Bar [31msensor 1"
    assert len(plain_text("x" * 500)) == 40
    assert plain_text(None) == ""


@pytest.mark.parametrize("name", ["a\\u001b[2J\\u202eb\\n\\u0007", "x" * 5000])
def test_the_text_of_a_profile_is_as_untrusted_as_a_name_from_the_air(name: str) -> None:
    text = GOOD.replace('name = "test"', f'name = "{name}"\nabout = "{name}"')
    words = parse_profile(text, "any.toml").describe()
    assert all(character.isprintable() for line in words.splitlines() for character in line)
    assert len(words) < 1000


@pytest.mark.parametrize("field", ['"counter uint16"', '"ff01"', 'unit = "mg"'])
def test_what_a_refused_profile_says_is_one_printable_line(field: str) -> None:
    evil = '"\\u001b[2J\\nx"'
    bad = GOOD.replace(field, f"unit = {evil}" if field.startswith("unit") else evil, 1)
    with suppress(ProfileError):
        parse_profile(bad, "any.toml")
        return
    with pytest.raises(ProfileError) as caught:
        parse_profile(bad, "any.toml")
    assert all(character.isprintable() for character in str(caught.value))
