"""One PostgreSQL for all tests of a process, set up for a club that each test finds empty."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from filelock import FileLock
from sqlalchemy import Engine, text

from station.store.embedded import EmbeddedServer
from station.store.exchange_server import Doors, engine_for, new_passwords, prepare
from station.store.tables import metadata, new_id

QUICK = ("fsync=off", "full_page_writes=off", "autovacuum=off")


@dataclass(frozen=True)
class Shared:
    """A shared database: the server, the ways in, and an administrator's engine to look at it."""

    server: EmbeddedServer
    doors: Doors
    admin: Engine


@pytest.fixture(scope="session")
def postgres(tmp_path_factory: pytest.TempPathFactory) -> Iterator[EmbeddedServer]:
    """The real one; not in pytest's own folder, since its user must be able to reach it."""
    folder = Path(tempfile.mkdtemp(prefix="station-postgres-"))
    server = EmbeddedServer(folder, QUICK)
    # One at a time: the first on a machine makes the user that it runs as, and each looks for a free port.
    with FileLock(tmp_path_factory.getbasetemp().parent / "station-postgres.lock"):
        server.start()
    yield server
    server.stop("immediate")
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def prepared(postgres: EmbeddedServer) -> Doors:
    return prepare(postgres.admin_url, new_passwords())


@pytest.fixture
def shared(postgres: EmbeddedServer, prepared: Doors) -> Iterator[Shared]:
    """Today's tables with nothing in them, and an id of its own: another server than the last test's."""
    postgres.start()
    admin = engine_for(postgres.admin_url)
    names = [t.name for t in metadata.sorted_tables] + ["arrivals", "refused", "club"]
    with admin.begin() as connection:
        connection.execute(text("SET LOCAL search_path TO station"))
        connection.execute(text(f"TRUNCATE {', '.join(names)} RESTART IDENTITY"))
        connection.execute(text("INSERT INTO club VALUES (:id)"), {"id": new_id()})
    yield Shared(postgres, prepared, admin)
    admin.dispose()
