"""What `share start`, `stop` and `status` do with this machine's PostgreSQL and its records."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import make_url

from station.store.database import FILE_NAME
from station.store.embedded import EmbeddedServer, Opening
from station.store.exchange_server import engine_for, new_passwords, prepare, reachable
from station.store.shared_setting import keep_urls, read_urls
from station.store.sharing import Role

FOLDER = "postgresql"


def server_of(root: Path) -> EmbeddedServer:
    """This machine's own PostgreSQL, beside its records."""
    return EmbeddedServer(root / FOLDER)


def start_here(
    root: Path, bind: str | None, certificate: Path | None, key: Path | None, rack_password: str | None
) -> list[str]:
    """Start the server, set it up the first time, join this machine; what to say.

    Raises:
        StoreError: with what to do.
    """
    server = server_of(root)
    opening = Opening(bind, certificate, key) if bind and certificate and key else None
    if server.running:
        server.stop()
    admin = server.start(opening)
    urls = read_urls(root)
    if set(urls) != set(Role) or rack_password is not None or not _own(urls, server):
        passwords = new_passwords() | ({Role.RACK: rack_password} if rack_password is not None else {})
        doors = prepare(admin, passwords)
        urls = {Role.RACK: doors.rack, Role.STAFF: doors.staff}
        keep_urls(root, urls)
    said = [
        f"PostgreSQL runs in {server.folder} on port {server.port}; this machine's stations share through it"
    ]
    if opening is not None:
        away = make_url(urls[Role.RACK]).set(host=opening.address).update_query_dict({"sslmode": "require"})
        words = away.set(password="PASSWORD").render_as_string(hide_password=False)
        said.append(
            f"on each other machine, with the password you chose:\n  python -m station share join '{words}'"
        )
    return said


def _own(urls: dict[Role, str], server: EmbeddedServer) -> bool:
    return all(make_url(url).port == server.port for url in urls.values())


def status_lines(root: Path) -> list[str]:
    """Whether the shared database answers, and what waits in each record."""
    urls = read_urls(root)
    if not urls:
        return ["this machine shares with nobody"]
    said = []
    for role, url in urls.items():
        engine = engine_for(url)
        try:
            said.append(f"as {role}: {engine.url.render_as_string()}: {reachable(engine)}")
        finally:
            engine.dispose()
    for file in sorted(root.glob(f"*/{FILE_NAME}")):
        try:
            with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as record:
                waits = record.execute("SELECT count(*) FROM outgoing").fetchone()[0]
                joined = record.execute("SELECT count(*) FROM exchange_state").fetchone()[0]
            said.append(f"{file.parent.name}: {f'{waits} rows wait' if joined else 'was never online yet'}")
        except sqlite3.Error as error:
            said.append(f"{file.parent.name}: cannot be read now ({error})")
    return said
