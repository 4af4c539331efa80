"""Bringing an older logbook up to this version's tables, by Alembic's migrations."""

from __future__ import annotations

from importlib.resources import as_file, files

from sqlalchemy import Connection

from firmware_py.logbook.versions import FIRST, HEAD, is_unstamped, stamp


def upgrade(connection: Connection, to: str = HEAD) -> None:
    """Migrate the database of an open transaction; the caller commits, and all or nothing is done.

    A database without a stamp is taken for the first version if it has its tables.
    """
    # Alembic takes longer to load than all the rest of the logbook; few starts need it.
    from alembic import command  # noqa: PLC0415
    from alembic.config import Config  # noqa: PLC0415

    if is_unstamped(connection):
        stamp(connection, FIRST)
    with as_file(files("firmware_py.logbook") / "migrations") as folder:
        config = Config()
        config.set_main_option("script_location", str(folder).replace("%", "%%"))
        config.attributes["connection"] = connection
        command.upgrade(config, to)
