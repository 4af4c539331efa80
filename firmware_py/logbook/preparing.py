"""Giving a database the tables of this version, or saying why it can't be a logbook."""

from __future__ import annotations

import time

from sqlalchemy import Connection, Engine, delete, inspect
from sqlalchemy.exc import OperationalError, SQLAlchemyError

from firmware_py.logbook.errors import LogbookError, place
from firmware_py.logbook.schema import METADATA
from firmware_py.logbook.tables import PULSE
from firmware_py.logbook.upgrading import upgrade
from firmware_py.logbook.versions import (
    HEAD,
    KNOWN,
    LATER,
    LATER_TABLES,
    is_unstamped,
    stamp,
    version_of,
)

_TRIES = 20
_PAUSE_S = 0.05
_CHANGES_NOTHING = delete(PULSE).where(PULSE.c.id == 0)


def prepare(engine: Engine, *, sqlite: bool) -> None:
    """Create or migrate what is missing, then make sure that what was there is a logbook.

    Raises :class:`LogbookError` for a database of a newer version or another program.
    """
    if sqlite:
        _to_wal(engine)
        _bring_file_up(engine)
    else:
        with engine.begin() as connection:
            _bring_up(engine, connection)
    with engine.connect() as connection:
        check(engine, connection)


def check(engine: Engine, connection: Connection) -> None:
    """Make sure that a database is a logbook of this version. Raises :class:`LogbookError`."""
    _check_version(engine, version_of(connection))
    _check_columns(engine, connection)


def _to_wal(engine: Engine) -> None:
    """Switch to WAL, which lasts. Two first starts at once may get in each other's way."""
    for remaining in reversed(range(_TRIES)):
        try:
            with engine.connect() as connection:
                if _scalar(connection, "PRAGMA journal_mode") != "wal":
                    _scalar(connection, "PRAGMA journal_mode = WAL")
                return
        except OperationalError as trouble:
            if not _is_locked(trouble) or not remaining:
                raise
            time.sleep(_PAUSE_S)


def _bring_file_up(engine: Engine) -> None:
    """Create or migrate under the write lock, and prove that writing works.

    SQLite lets even a read-only file be locked, and refuses at the first statement that writes.
    Of two that open at once, the second finds the work done.

    A lock that someone else holds is no reason to refuse a logbook that lacks nothing.
    """
    with engine.connect() as connection:
        try:
            connection.exec_driver_sql("BEGIN IMMEDIATE")
        except OperationalError as trouble:
            if _is_locked(trouble) and version_of(connection) == HEAD:
                return
            raise
        _bring_up(engine, connection)
        connection.execute(_CHANGES_NOTHING)
        connection.commit()


def _bring_up(engine: Engine, connection: Connection) -> None:
    version = version_of(connection)
    _check_version(engine, version)
    if version == HEAD:
        return
    if version is None and not is_unstamped(connection):
        METADATA.create_all(connection)
        stamp(connection)
        return
    if version is None:
        _check_columns(engine, connection, LATER, LATER_TABLES)
    upgrade(connection)


def _check_version(engine: Engine, version: str | None) -> None:
    if version is not None and version not in KNOWN:
        raise LogbookError(
            f"{place(engine)}: its tables have version {version}, and this Spurlock knows those "
            f"up to {HEAD}; install the newer Spurlock that made it, or name another file"
        )


def _check_columns(
    engine: Engine,
    connection: Connection,
    but: frozenset[tuple[str, str]] = frozenset(),
    without: frozenset[str] = frozenset(),
) -> None:
    found = inspect(connection)
    names = set(found.get_table_names())
    for table in METADATA.sorted_tables:
        if table.name in names:
            wanted = (column.name for column in table.columns)
            there = {column["name"] for column in found.get_columns(table.name)}
            lacking = [n for n in wanted if n not in there and (table.name, n) not in but]
            if lacking:
                raise _stranger(engine, f"its table '{table.name}' has no column '{lacking[0]}'")
    for table in METADATA.sorted_tables:
        if table.name not in names and table.name not in without:
            raise _stranger(engine, f"it has no table '{table.name}'")


def _stranger(engine: Engine, why: str) -> LogbookError:
    return LogbookError(
        f"{place(engine)}: this database is not a logbook of this version: {why}; name another file"
    )


def _scalar(connection: Connection, pragma: str) -> object:
    return connection.exec_driver_sql(pragma).scalar()


def _is_locked(trouble: SQLAlchemyError) -> bool:
    return "locked" in str(trouble)
