"""A damaged database: telling one, and beginning anew beside it without losing it."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

from sqlalchemy import Engine, make_url

from firmware_py.logbook.errors import LogbookError, reason
from firmware_py.logbook.files import set_aside, sqlite_file
from firmware_py.logbook.opening import BUSY_MS, logbook_url, open_engine
from firmware_py.logbook.salvage import fill_new

CHECK_S = 2.0
"""How long the check of a file may take: a guard that is not there yet is worse than damage."""

_SIGNS = ("malformed", "not a database", "file is encrypted")
_HEADER = b"SQLite format 3\0"
_STEPS = 10_000


def is_damage(trouble: BaseException) -> bool:
    """Whether what the database raised means that its file is damaged."""
    cause = getattr(trouble, "orig", None) or trouble
    return isinstance(cause, sqlite3.DatabaseError) and any(s in str(cause) for s in _SIGNS)


def damage_of(path: Path, seconds: float = CHECK_S) -> str | None:
    """What is damaged in a database file, in the database's words; ``None`` if nothing is found.

    The check is given up after so many seconds, and with it what damage it had not come to. A
    file that is empty, missing, locked, or nothing but text is not damaged.
    """
    if not path.is_file() or path.stat().st_size == 0 or _is_text(path):
        return None
    with path.open("rb") as stream:
        if stream.read(len(_HEADER)) != _HEADER:
            return "its first page is not a database's"  # Opening it would throw its WAL away.
    try:
        with closing(sqlite3.connect(path, timeout=BUSY_MS / 1_000)) as connection:
            found = _checked(connection, seconds)
    except sqlite3.Error as trouble:
        return reason(trouble) if is_damage(trouble) else None
    return None if found == "ok" else found


def open_or_begin_anew(
    url: str, *, busy_ms: int = BUSY_MS, now: Callable[[], datetime] = datetime.now
) -> tuple[Engine, str | None]:
    """Open a logbook; one whose file is damaged is set aside, and a new one begun.

    What the host has prepared is put into a new one, as far as it can be read: out of the
    damaged file, or of what earlier ones or backups lie beside it. The second part of the answer
    tells of all that, for a remark; else it is ``None``. Raises :class:`LogbookError` as
    ``open_engine`` does, also when the file can't be set aside.
    """
    path = sqlite_file(make_url(logbook_url(url)))
    aside, said = None, ""
    if path is not None and (found := damage_of(path)) is not None:
        aside = _put_aside(path, found, now())
        said = f"The logbook was damaged ({found}); it is kept as {aside.name}"
        said += ", and a new one is begun"
    engine = open_engine(url, busy_ms)
    if path is not None and (saved := fill_new(engine, path, aside)):
        said = f"{said or 'A new logbook is begun'}; {saved}"
    return engine, f"{said}." if said else None


def _put_aside(path: Path, found: str, now: datetime) -> Path:
    try:
        return set_aside(path, "damaged", now)
    except OSError as trouble:
        raise LogbookError(
            f"{path}: it is damaged ({found}) and can't be renamed: {trouble.strerror}; "
            "move it away yourself"
        ) from trouble


def _checked(connection: sqlite3.Connection, seconds: float) -> str:
    until = time.monotonic() + seconds
    connection.set_progress_handler(lambda: time.monotonic() > until, _STEPS)
    try:
        [found] = connection.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.OperationalError as stopped:
        if "interrupted" not in str(stopped):
            raise
        return "ok"
    return " ".join(str(found).split())


def _is_text(path: Path) -> bool:
    """Whether someone has named a file that never was a database, such as his layout."""
    with path.open("rb") as stream:
        head = stream.read(4096)
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError as wrong:
        # The cut may have gone through a letter.
        text = head[: wrong.start].decode("utf-8") if wrong.start > len(head) - 4 else "\0"
    return all(letter.isprintable() or letter in "\r\n\t\f" for letter in text)
