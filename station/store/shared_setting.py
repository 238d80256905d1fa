"""Which shared database this machine's stations exchange with: one small file beside their records.

It holds passwords, so that only its owner may read it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path

from station.store.errors import FolderNotWritable
from station.store.sharing import Role

FILE_NAME = "shared.json"


def read_urls(root: Path) -> dict[Role, str]:
    """The URL of each role this machine takes part as; empty where it shares with nobody."""
    try:
        kept = json.loads((root / FILE_NAME).read_text(encoding="utf-8"))
        return {role: str(kept[role]) for role in Role if role in kept}
    except (OSError, ValueError, TypeError):
        return {}


def url_for(root: Path, role: Role) -> str | None:
    """What a station of that role uses. A rack on the desk's machine may come in by the desk's door."""
    urls = read_urls(root)
    return urls.get(role) or (urls.get(Role.STAFF) if role is Role.RACK else None)


def keep_urls(root: Path, urls: Mapping[Role, str]) -> None:
    """Take part by these URLs from now on.

    Raises:
        FolderNotWritable: with what to do.
    """
    file = root / FILE_NAME
    half = file.with_suffix(".new")
    try:
        root.mkdir(parents=True, exist_ok=True)
        half.unlink(missing_ok=True)
        with os.fdopen(
            os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8"
        ) as kept:
            json.dump({str(role): url for role, url in urls.items()}, kept)
        half.replace(file)
    except OSError as error:
        raise FolderNotWritable(root, error.strerror or str(error)) from error


def leave(root: Path) -> bool:
    """Share with nobody from now on; whether it did before. What was taken in stays."""
    there = (root / FILE_NAME).exists()
    (root / FILE_NAME).unlink(missing_ok=True)
    return there
