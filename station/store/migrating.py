"""Tables brought to today's version. Alembic is loaded where there is something to migrate, and not at every start:
it takes a fifth of a second."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sqlalchemy import Connection

_MIGRATIONS = "station.store.migrations"


class OtherVersion(Exception):
    """The tables are of a version that this station does not know."""


def newest_version() -> str:
    """The version of the tables that this station works with: the last migration's, as its file is named."""
    names = (file.name for file in files(f"{_MIGRATIONS}.versions").iterdir() if file.name.endswith(".py"))
    return max(name.partition("_")[0] for name in names if name[0].isdigit())


def migrate(connection: Connection) -> None:
    """Bring the tables up to the newest version, in one transaction of the caller.

    Raises:
        OtherVersion: they are of a version that is not known here.
    """
    from alembic import command
    from alembic.config import Config
    from alembic.util.exc import CommandError

    config = Config()
    package, _, folder = _MIGRATIONS.rpartition(".")
    config.set_main_option("script_location", f"{package}:{folder}")
    config.attributes["connection"] = connection
    try:
        command.upgrade(config, "head")
    except CommandError as error:
        raise OtherVersion(str(error)) from error
