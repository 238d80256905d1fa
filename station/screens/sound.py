"""Plays the two tones with what the machine has; where it has nothing the screen stays silent and says so.

The light Qt packages bring no audio, so a program of the system plays the file: without waiting for it.
"""

from __future__ import annotations

import logging
import shutil
import sys
import tempfile
from pathlib import Path

from PySide6.QtCore import QProcess

from station.screens.tones import Tone, wave_bytes

log = logging.getLogger(__name__)

PLAYERS = (("pw-play",), ("paplay",), ("aplay", "-q"), ("afplay",))


class Sound:
    """Two tones on disk, and the program that plays them."""

    def __init__(self) -> None:
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._player = next((p for p in PLAYERS if shutil.which(p[0])), None)

    @property
    def possible(self) -> bool:
        """Whether this machine can play a sound file."""
        return sys.platform == "win32" or self._player is not None

    def play(self, tone: Tone) -> None:
        """Begin to play; never waits, never raises."""
        try:
            file = self._file(tone)
            if sys.platform == "win32":
                import winsound

                winsound.PlaySound(str(file), winsound.SND_FILENAME | winsound.SND_ASYNC)
            elif self._player is not None:
                program, *options = self._player
                QProcess.startDetached(program, [*options, str(file)])
        except (OSError, RuntimeError) as error:
            log.warning("no tone: %s", error)

    def close(self) -> None:
        """Remove the files."""
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None

    def _file(self, tone: Tone) -> Path:
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="bar-speed-tones-", ignore_cleanup_errors=True)
        file = Path(self._folder.name) / f"{tone.name.lower()}.wav"
        if not file.exists():
            file.write_bytes(wave_bytes(tone))
        return file
