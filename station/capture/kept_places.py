"""The squad's latest bar speeds in their usual ranges, kept beside the record for the next start."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

from station.readiness.bar_place import BarPlace
from station.readiness.own_usual import OwnUsual

CACHE_FILE = "usual-ranges.json"


def read_places(file: Path, key: str) -> dict[str, BarPlace] | None:
    """What was kept under this key; None when it is another's, or cannot be read."""
    try:
        kept: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
        if kept["key"] != key:
            return None
        return {
            athlete_id: BarPlace(
                one["lift"],
                one["load_kg"],
                date.fromisoformat(one["day"]),
                one["mean_velocity_m_s"],
                OwnUsual(**one["usual"]),
            )
            for athlete_id, one in kept["places"].items()
        }
    except (OSError, ValueError, KeyError, TypeError):
        return None  # computed again


def write_places(file: Path, key: str, places: dict[str, BarPlace]) -> None:
    """Keep them in place of what was there."""
    rows = {a: asdict(place) | {"day": place.day.isoformat()} for a, place in places.items()}
    try:
        file.write_text(json.dumps({"key": key, "places": rows}), encoding="utf-8")
    except OSError:
        return  # computed again the next time
