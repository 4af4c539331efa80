"""Opening a logbook: a file or a database URL becomes an engine with every table in place."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import ArgumentError, DisconnectionError, NoSuchModuleError
from sqlalchemy.pool import ConnectionPoolEntry

from firmware_py.logbook.errors import GONE, LogbookError, reason, telling
from firmware_py.logbook.files import identity, sqlite_file
from firmware_py.logbook.preparing import check, prepare
from firmware_py.logbook.versions import HEAD, KNOWN, is_unstamped, version_of

BUSY_MS = 5_000
_KNOWN_AS = "spurlock file"


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
    """Open a logbook; create the tables of a new one, and migrate those of an older one.

    ``url`` is a path or a database URL. SQLite is opened in WAL mode with full synchronising,
    and a busy database is waited for ``busy_ms`` milliseconds. Raises :class:`LogbookError`,
    which says where and what would be right, if it can't be opened, written or understood.

    Should the file be deleted or replaced while it is open, connections of the engine follow to
    the file that has its name then, and none of them makes an empty one.
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
            prepare(engine, sqlite=sqlite)
    except LogbookError:
        engine.dispose()
        raise
    _follow_file(engine)
    return engine


def open_to_read(url: str, busy_ms: int = BUSY_MS) -> Engine:
    """Open a logbook that is there, to read it: nothing is created, and nothing can be written.

    One of an older version is migrated first. Raises :class:`LogbookError`.
    """
    made = _parsed(logbook_url(url))
    path = sqlite_file(made)
    if path is not None and not path.is_file():
        raise LogbookError(f"{path}: there is no such logbook; name one that is there")
    engine = _created(made)
    if made.get_backend_name() == "sqlite":
        event.listen(engine, "connect", _on_connect(busy_ms, "PRAGMA query_only = ON"))
    try:
        with telling(engine), engine.connect() as connection:
            needs_work = _is_older(connection)
            if not needs_work:
                check(engine, connection)
    except LogbookError:
        engine.dispose()
        raise
    if needs_work:
        engine.dispose()
        open_engine(url, busy_ms).dispose()
        return open_to_read(url, busy_ms)
    _follow_file(engine)
    return engine


def _is_older(connection: Connection) -> bool:
    version = version_of(connection)
    return is_unstamped(connection) or (version in KNOWN and version != HEAD)


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


def _on_connect(busy_ms: int, *more: str) -> Callable[[DBAPIConnection, object], None]:
    def set_up(raw: DBAPIConnection, _record: object) -> None:
        cursor = raw.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {busy_ms}")
        cursor.execute("PRAGMA synchronous = FULL")
        cursor.execute("PRAGMA foreign_keys = ON")
        for pragma in more:
            cursor.execute(pragma)
        cursor.close()

    return set_up


def _follow_file(engine: Engine) -> None:
    """Let no connection of the pool go on with a file that has lost its name."""
    path = sqlite_file(engine)
    if path is None:
        return

    def only_to_what_is_there(*_: object) -> None:
        if identity(path) is None:
            raise sqlite3.OperationalError(GONE)

    def note(_raw: DBAPIConnection, record: ConnectionPoolEntry) -> None:
        record.info[_KNOWN_AS] = identity(path)

    def compare(_raw: DBAPIConnection, record: ConnectionPoolEntry, _proxy: object) -> None:
        if record.info[_KNOWN_AS] != identity(path):
            raise DisconnectionError

    engine.dispose()  # What was opened before could not be noted.
    event.listen(engine, "do_connect", only_to_what_is_there)
    event.listen(engine, "connect", note)
    event.listen(engine, "checkout", compare)
