"""Putting a backup in a logbook's place: what it would replace, whether it may, and doing it."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from datetime import datetime
from pathlib import Path

import msgspec
from sqlalchemy import func, select

from firmware_py.logbook.errors import LogbookError, reason, telling
from firmware_py.logbook.files import COMPANIONS, identity, put_in_place, set_aside
from firmware_py.logbook.incarnation import SETTING as INCARNATION
from firmware_py.logbook.opening import open_to_read
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.tables import ENTRY, REMARK, SESSION

BEATS_WITHIN_S = 5.0
"""An engine that is well beats about every two seconds."""

_LOOK_EVERY_S = 0.1


class Holdings(msgspec.Struct, frozen=True):
    """What a logbook holds: how many sessions and entries, and the newest wall time in it.

    ``newest_wall_us`` is in microseconds since 1970 UTC; ``None`` where nothing is logged.
    """

    sessions: int
    entries: int
    newest_wall_us: int | None


def holdings(path: Path) -> Holdings:
    """Count what a logbook holds. Raises :class:`LogbookError` if it can't be read.

    It is read as it lies there: the version of its tables may be an older one.
    """
    if not path.is_file():
        raise LogbookError(f"{path}: there is no such file; name one that is there")
    counts = [select(func.count()).select_from(table) for table in (SESSION, ENTRY)]
    newest = [
        select(func.max(column))
        for column in (SESSION.c.began_wall_us, ENTRY.c.wall_us, REMARK.c.wall_us)
    ]
    try:
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA query_only = ON")
            sessions, entries = (connection.execute(str(n)).fetchone()[0] for n in counts)
            times = [connection.execute(str(n)).fetchone()[0] for n in newest]
    except sqlite3.Error as trouble:
        raise LogbookError(f"{path}: {reason(trouble)}") from trouble
    return Holdings(sessions, entries, max((t for t in times if t is not None), default=None))


def check_backup(backup: Path) -> None:
    """Make sure that a backup is whole, and a logbook. Raises :class:`LogbookError`."""
    holdings(backup)
    try:
        with closing(sqlite3.connect(backup)) as connection:
            [found] = connection.execute("PRAGMA integrity_check(1)").fetchone()
    except sqlite3.Error as trouble:
        raise LogbookError(f"{backup}: {reason(trouble)}") from trouble
    if found != "ok":
        raise LogbookError(f"{backup}: it is damaged ({found}); choose another backup")


def is_running(path: Path, within_s: float = BEATS_WITHIN_S) -> bool:
    """Whether an engine keeps this logbook: its pulse beats. Waits for a beat if one may come.

    A logbook that can't be read is not kept by anyone, as far as can be told.
    """
    try:
        engine = open_to_read(str(path))
    except LogbookError:
        return False
    try:
        return _beats(Reader(engine), within_s)
    except LogbookError:
        return False
    finally:
        engine.dispose()


def restore(path: Path, backup: Path, now: datetime) -> Path | None:
    """Put a copy of a backup in a logbook's place; the answer is where the present file went.

    That is ``None`` where there was none. Nothing is overwritten, and the copy is whole and on
    the disk before the present file gives up its name. Raises :class:`LogbookError`.
    """
    new = path.with_name(f"{path.name}.restored")
    aside = None
    try:
        for ending in ("", *COMPANIONS):
            Path(f"{new}{ending}").unlink(missing_ok=True)
        with closing(sqlite3.connect(backup)) as source, closing(sqlite3.connect(new)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        _check_copy(new)
        if identity(path) is not None:
            aside = set_aside(path, "replaced", now)
        put_in_place(new, path)
    except (OSError, sqlite3.Error) as trouble:
        kept = f"; what was there is kept as {aside}" if aside else "; nothing was replaced"
        raise LogbookError(f"{path}: {reason(trouble)}{kept}") from trouble
    return aside


def _check_copy(new: Path) -> None:
    """Open it as a logbook, which also brings older tables up to date; it must say yes now."""
    engine = open_to_read(str(new))
    with telling(engine), engine.connect():
        pass
    engine.dispose()
    with closing(sqlite3.connect(new)) as copy:
        # Ids come a second time in it: a board must not take them for those it has.
        copy.execute("DELETE FROM setting WHERE name = ?", (INCARNATION,))
        copy.commit()
        copy.execute("PRAGMA journal_mode = DELETE")


def _beats(reader: Reader, within_s: float) -> bool:
    first = reader.pulse()
    if first is None or first.state == "stopped":
        return False
    until = time.monotonic() + within_s
    while time.monotonic() < until:
        time.sleep(_LOOK_EVERY_S)
        later = reader.pulse()
        if later is not None and later.beat != first.beat:
            return later.state != "stopped"
    return False
