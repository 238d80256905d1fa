"""Wrong PINs, counted for all screens of a machine and through a restart: a small file beside the records.

No name and no PIN is in it. A file that cannot be read or written is said in the log; then each screen counts alone.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
import math
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

log = logging.getLogger(__name__)

FILE_NAME = "wrong-pins.json"


@dataclass(frozen=True, slots=True)
class Tries:
    """How many wrong ones in a row, and when the last was typed: wall clock, s since 1970 (UTC)."""

    wrong: int
    at_s: float


def tries_key(staff: str, pin_hash: str) -> str:
    """Under what the tries at one person's PIN are kept; another PIN begins anew."""
    return hashlib.sha256(f"{staff}\0{pin_hash}".encode()).hexdigest()[:16]


class WrongPins:
    """What is counted on one machine.

    Args:
        file: shared by the screens of the machine; None: this screen counts alone.
    """

    def __init__(self, file: Path | None = None) -> None:
        self._file = file
        self._tries: dict[str, Tries] = {}
        self._saved = True

    def all(self) -> dict[str, Tries]:
        """As the file has it now; as last known where it cannot be read."""
        if self._file is None:
            return self._tries
        try:
            kept = _parsed(self._file.read_text(encoding="utf-8"))
        except FileNotFoundError:
            kept = {}
        except (OSError, ValueError, TypeError, AttributeError) as error:
            log.warning("%s is not understood (%s): wrong PINs are counted here alone", self._file, error)
            return self._tries
        # What could not be written is not in the file: it holds until a file takes it.
        self._tries = kept if self._saved else kept | self._tries
        return self._tries

    def put(self, key: str, tries: Tries | None) -> None:
        """Keep these tries; None: the right PIN was typed, and nothing is held against anybody."""
        known = {name: one for name, one in self.all().items() if name != key}
        self._tries = known if tries is None else known | {key: tries}
        self._saved = self._write()

    def _write(self) -> bool:
        """Whole or not at all, for this account alone."""
        if self._file is None:
            return True
        half = None
        try:
            handle, half = tempfile.mkstemp(".new", FILE_NAME, self._file.parent)  # made with mode 0600
            with os.fdopen(handle, "w", encoding="utf-8") as kept:
                json.dump({key: [one.wrong, one.at_s] for key, one in self._tries.items()}, kept)
            Path(half).replace(self._file)
        except OSError as error:
            log.warning("wrong PINs could not be kept: %s", error)
            if half is not None:
                with contextlib.suppress(OSError):
                    Path(half).unlink(missing_ok=True)
            return False
        return True


def _parsed(text: str) -> dict[str, Tries]:
    found = {}
    for key, (wrong, at_s) in json.loads(text).items():
        if not isinstance(wrong, int) or wrong < 1 or not math.isfinite(at_s):
            raise ValueError(f"{wrong!r} wrong ones at {at_s!r}")
        found[key] = Tries(wrong, float(at_s))
    return found
