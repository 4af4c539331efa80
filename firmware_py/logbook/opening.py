"""Opening a logbook: a file or a database URL becomes an engine with every table in place."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, delete, event, inspect
from sqlalchemy.engine import URL, make_url
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, OperationalError, SQLAlchemyError

from firmware_py.logbook.errors import LogbookError, place, reason, telling
from firmware_py.logbook.schema import Base
from firmware_py.logbook.tables import PULSE

BUSY_MS = 5_000
_TRIES = 20
_PAUSE_S = 0.05
_CHANGES_NOTHING = delete(PULSE).where(PULSE.c.id == 0)


def logbook_url(path_or_url: str) -> str:
    """Turn a plain path into an SQLite URL; a URL (anything with ``://``) stays as it is.

    Raises :class:`LogbookError` for an empty text, and for a path that no URL can hold.
    """
    if not path_or_url.strip():
        raise LogbookError("the logbook has no name; give a file such as logbook.sqlite, or a URL")
    if "://" in path_or_url:
        return path_or_url
    path = str(Path(path_or_url).expanduser())
    url = URL.create("sqlite", database=path).render_as_string(hide_password=False)
    if make_url(url).database != path:
        raise LogbookError(f"{path}: use a file name without '?', '%' and '#'")
    return url


def open_engine(url: str, busy_ms: int = BUSY_MS) -> Engine:
    """Open a logbook and create the tables that are missing.

    ``url`` is a path or a database URL. SQLite is opened in WAL mode with full synchronising,
    and a busy database is waited for ``busy_ms`` milliseconds. Raises :class:`LogbookError`,
    which says where and what would be right, if it can't be opened, written or understood.
    """
    made = _parsed(logbook_url(url))
    sqlite = made.get_backend_name() == "sqlite"
    if sqlite:
        _check_file(made)
    engine = _created(made)
    if sqlite:
        event.listen(engine, "connect", _on_connect(busy_ms))
    try:
        with telling(engine):
            _prepare(engine, sqlite=sqlite)
    except LogbookError:
        engine.dispose()
        raise
    return engine


def _parsed(url: str) -> URL:
    try:
        return make_url(url)
    except ArgumentError:
        wanted = "a file such as logbook.sqlite, or a URL such as sqlite:////var/lib/logbook.sqlite"
        raise LogbookError(f"the logbook's URL can't be understood; give {wanted}") from None


def _created(url: URL) -> Engine:
    shown = url.render_as_string(hide_password=True)
    try:
        return create_engine(url)
    except NoSuchModuleError:
        kind = url.drivername
        raise LogbookError(
            f"{shown}: there is no database kind '{kind}'; use sqlite, or install its package"
        ) from None
    except ModuleNotFoundError as missing:
        raise LogbookError(
            f"{shown}: the Python package '{missing.name}' is missing; install it, or use sqlite"
        ) from None
    except (ArgumentError, TypeError) as wrong:
        raise LogbookError(f"{shown}: {reason(wrong)}; check the URL's options") from None


def _check_file(url: URL) -> None:
    """Refuse what can't be a shared SQLite file, before SQLite says it less clearly."""
    name = url.database
    if not name or ":memory:" in name:
        raise LogbookError(
            "a logbook in memory can't be shared by the engine and the screen; name a file"
        )
    if name.startswith("file:"):
        return
    path = Path(name)
    if path.is_dir():
        raise LogbookError(f"{path}: this is a folder; name a file in it, such as logbook.sqlite")
    if not path.parent.is_dir():
        raise LogbookError(f"{path}: there is no folder {path.parent}; make it first")


def _on_connect(busy_ms: int) -> Callable[[DBAPIConnection, object], None]:
    def set_up(raw: DBAPIConnection, _record: object) -> None:
        cursor = raw.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {busy_ms}")
        cursor.execute("PRAGMA synchronous = FULL")
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.close()

    return set_up


def _prepare(engine: Engine, *, sqlite: bool) -> None:
    """Create what is missing, then make sure that what was there is a logbook."""
    if sqlite:
        _to_wal(engine)
        _create_in_file(engine)
    else:
        Base.metadata.create_all(engine)
    with engine.connect() as connection:
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


def _create_in_file(engine: Engine) -> None:
    """Create missing tables under the write lock, and prove that writing works.

    SQLite lets even a read-only file be locked, and refuses at the first statement that writes.

    A lock that someone else holds is no reason to refuse a logbook that has its tables.
    """
    with engine.connect() as connection:
        try:
            connection.exec_driver_sql("BEGIN IMMEDIATE")
        except OperationalError as trouble:
            if _is_locked(trouble) and inspect(engine).has_table("session"):
                return
            raise
        Base.metadata.create_all(connection)
        connection.execute(_CHANGES_NOTHING)
        connection.commit()


def _check_columns(engine: Engine, connection: Connection) -> None:
    found = inspect(connection)
    for table in Base.metadata.sorted_tables:
        there = {column["name"] for column in found.get_columns(table.name)}
        lacking = [column.name for column in table.columns if column.name not in there]
        if lacking:
            raise LogbookError(
                f"{place(engine)}: this database is not a logbook of this version: its table "
                f"'{table.name}' has no column '{lacking[0]}'; name another file"
            )


def _scalar(connection: Connection, pragma: str) -> object:
    return connection.exec_driver_sql(pragma).scalar()


def _is_locked(trouble: SQLAlchemyError) -> bool:
    return "locked" in str(trouble)
