"""Keeps the display awake during a session: asked of the system, given back afterwards, quiet where it is refused."""

from __future__ import annotations

import logging
import shutil
import sys
from typing import Protocol

from PySide6.QtCore import QObject, QProcess

log = logging.getLogger(__name__)

NAME, WHY = "bar-speed station", "a session at the rack"
# SetThreadExecutionState (Windows API, winbase.h): continuous, system and display required.
ES_CONTINUOUS, ES_SYSTEM_REQUIRED, ES_DISPLAY_REQUIRED = 0x80000000, 0x1, 0x2
_ANSWER_MS = 500


class Way(Protocol):
    """One way to keep the display awake."""

    def hold(self) -> bool:
        """Begin; whether the system agreed."""

    def release(self) -> None:
        """Give it back."""


class ThreadState:
    """Windows: the thread asks for system and display. Only built on Windows."""

    def hold(self) -> bool:
        """Begin."""
        return self._set(ES_CONTINUOUS | ES_SYSTEM_REQUIRED | ES_DISPLAY_REQUIRED)

    def release(self) -> None:
        """Give it back."""
        self._set(ES_CONTINUOUS)

    @staticmethod
    def _set(state: int) -> bool:
        import ctypes

        return bool(getattr(ctypes, "windll").kernel32.SetThreadExecutionState(state))  # noqa: B009


class ScreenSaverService:
    """Linux desktops: org.freedesktop.ScreenSaver on the session bus (freedesktop.org idle inhibition service)."""

    def __init__(self) -> None:
        self._cookie: int | None = None

    def _interface(self) -> object | None:
        from PySide6.QtDBus import QDBusConnection, QDBusInterface

        bus = QDBusConnection.sessionBus()
        if not bus.isConnected():
            return None
        service, path = "org.freedesktop.ScreenSaver", "/org/freedesktop/ScreenSaver"
        interface = QDBusInterface(service, path, service, bus)
        interface.setTimeout(_ANSWER_MS)
        return interface if interface.isValid() else None

    def hold(self) -> bool:
        """Begin."""
        from PySide6.QtDBus import QDBusInterface, QDBusMessage

        interface = self._interface()
        if not isinstance(interface, QDBusInterface):
            return False
        answer = interface.call("Inhibit", NAME, WHY)
        if answer.type() != QDBusMessage.MessageType.ReplyMessage or not answer.arguments():
            return False
        self._cookie = int(answer.arguments()[0])
        return True

    def release(self) -> None:
        """Give it back."""
        from PySide6.QtDBus import QDBusInterface

        interface = self._interface()
        if self._cookie is not None and isinstance(interface, QDBusInterface):
            interface.call("UnInhibit", self._cookie)
        self._cookie = None


class InhibitProcess:
    """Linux without a desktop: `systemd-inhibit` holds idle and sleep as long as its child runs."""

    PROGRAM = "systemd-inhibit"

    def __init__(self) -> None:
        self._process: QProcess | None = None

    def hold(self) -> bool:
        """Begin."""
        if shutil.which(self.PROGRAM) is None:
            return False
        self._process = QProcess()
        words = ["--what=idle:sleep", f"--who={NAME}", f"--why={WHY}", "cat"]
        self._process.start(self.PROGRAM, words)  # cat ends with the pipe, also when this program dies
        return self._process.waitForStarted(_ANSWER_MS)

    def release(self) -> None:
        """Give it back."""
        if self._process is not None:
            self._process.closeWriteChannel()
            if not self._process.waitForFinished(_ANSWER_MS):
                self._process.kill()
                self._process.waitForFinished(_ANSWER_MS)
            self._process = None


def ways() -> list[Way]:
    """What this system offers, the best first."""
    if sys.platform == "win32":
        return [ThreadState()]
    return [ScreenSaverService(), InhibitProcess()] if sys.platform.startswith("linux") else []


class KeepAwake(QObject):
    """Holds the display awake while it is wanted.

    Args:
        found: the ways to try, the best first.
    """

    def __init__(self, found: list[Way] | None = None) -> None:
        super().__init__()
        self._ways = ways() if found is None else found
        self._held: Way | None = None
        self._given_up = False

    @property
    def held(self) -> bool:
        """Whether the system keeps the display awake for us."""
        return self._held is not None

    def want(self, wanted: bool) -> None:
        """Hold or give back; what the system refused once is not asked for again."""
        if wanted and self._held is None and not self._given_up:
            self._held = next((way for way in self._ways if way.hold()), None)
            self._given_up = self._held is None
            if self._given_up:
                log.info("the display cannot be kept awake here: set its power saving to never")
        elif not wanted and self._held is not None:
            self._held.release()
            self._held = None
