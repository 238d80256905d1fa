"""How this rack's screen is set, in a small file in the rack's data folder: unit, scale, sound, theme, figures."""

from __future__ import annotations

import contextlib
import json
import logging
from dataclasses import asdict
from pathlib import Path
from typing import Any

from station.capture.rack_view import ScreenSettings

log = logging.getLogger(__name__)

FILE_NAME = "screen.json"
LEAST_SCALE, MOST_SCALE = 100, 200
MOST_CHANGE = 0.20


def read_settings(folder: Path) -> ScreenSettings:
    """The kept settings; those of a new rack where the file is missing or makes no sense (said in the log)."""
    file = folder / FILE_NAME
    if not file.exists():
        return ScreenSettings()
    try:
        return _settings(json.loads(file.read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError, KeyError) as error:
        log.warning("%s is not understood (%s): the screen starts as a new one", file, error)
        return ScreenSettings()


def keep_settings(folder: Path, settings: ScreenSettings) -> None:
    """Keep them, whole or not at all; a folder that refuses is no reason to stop lifting (said in the log)."""
    file = folder / FILE_NAME
    half = file.with_suffix(".new")
    try:
        half.write_text(json.dumps(asdict(settings)), encoding="utf-8")
        half.replace(file)
    except OSError as error:
        log.warning("the settings of the screen could not be kept: %s", error)
        with contextlib.suppress(OSError):
            half.unlink(missing_ok=True)


def _settings(kept: dict[str, Any]) -> ScreenSettings:
    unit, theme = kept["unit"], kept["theme"]
    if unit not in ("kg", "lb") or theme not in (None, "dark", "light"):
        raise ValueError(f"unit {unit!r}, theme {theme!r}")
    figures = tuple((str(lift), figure) for lift, figure in kept["figures"])
    if any(figure not in ("mean", "propulsive", "peak") for _, figure in figures):
        raise ValueError("an unknown figure")
    scale = min(max(int(kept["scale_percent"]), LEAST_SCALE), MOST_SCALE)
    down, up = (float(kept.get(name, getattr(ScreenSettings(), name))) for name in ("most_down", "most_up"))
    if not (0.0 <= down <= MOST_CHANGE and 0.0 <= up <= MOST_CHANGE):
        raise ValueError(f"a suggestion {down:g} down and {up:g} up")
    return ScreenSettings(unit, scale, bool(kept["sound"]), theme, figures, down, up)
