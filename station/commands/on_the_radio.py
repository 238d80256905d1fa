"""What the commands that use a radio have in common: profiles, the sensor book, and failures in a sentence."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from pathlib import Path
from typing import Any

from station.commands.fail import fail
from station.commands.folders import data_root


def run_on_the_radio(work: Coroutine[Any, Any, None]) -> None:
    """Run to its end or to Ctrl-C; what a radio cannot do is said in a sentence."""
    from bleak.exc import BleakError

    from drivers.radio import RadioError
    from drivers.sniff import SniffError

    try:
        asyncio.run(work)
    except KeyboardInterrupt:
        return
    except BleakError as error:
        fail(f"Bluetooth cannot be used: {error.args[0] if error.args else error}")
    except (RadioError, SniffError) as error:
        fail(str(error))
    except OSError as error:
        fail(f"Bluetooth cannot be used, or a file cannot be written ({error.strerror or error})")


def sensor_book(data: Path | None) -> Any:
    """The sensor book of the data folder."""
    from station.store.sensor_book import SensorBook

    return SensorBook(data_root(data))


def known_profiles(profile: Path | None) -> Any:
    """The profiles that come with the program, and before them one of the user's own."""
    from drivers.profile import shipped_profiles
    from drivers.profile_file import load_profile

    return (*((load_profile(profile),) if profile else ()), *shipped_profiles())
