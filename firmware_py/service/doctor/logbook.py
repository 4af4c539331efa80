"""The logbook's file and its backups, looked at without changing a byte of them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from firmware_py.logbook import backing_up
from firmware_py.logbook.versions import HEAD
from firmware_py.service.doctor.findings import (
    Case,
    Finding,
    care,
    span,
    unreadable,
    untold,
    well,
)

OLDEST_BACKUP_S = 3 * 86_400
"""One is made each night; the box may have been off for some of them."""
SET_ASIDE = ("damaged", "stranger")


@dataclass(frozen=True, slots=True)
class Book:
    """What was read: how many sessions, and the newest wall time in it (microseconds)."""

    sessions: int
    newest_wall_us: int | None
    version: str


def logbook(case: Case) -> tuple[Finding, Book | None]:
    """Whether the logbook can be read and is sound."""
    path = case.file
    if path is None:
        return untold("logbook", "a database server keeps it; ask that server's own tools"), None
    if not path.is_file():
        do = "name the logbook or its layout; one is made when the engine first runs"
        return unreadable("logbook", f"there is no file {path}", do), None
    try:
        with _opened(path) as database:
            book, fault = _book(database), _fault(database)
    except sqlite3.Error as error:
        return _unread(path, error), None
    if fault is not None:
        return _damaged(path, fault), book
    return _sound(path, book), book


def backups(case: Case) -> Finding:
    """How old the newest backup is."""
    path = case.file
    if path is None:
        return untold("backups", "a database server keeps this logbook; back it up there")
    made = sorted(found.stat().st_mtime for found in backing_up.backups(path).values())
    if not made:
        return care("backups", "there is none yet", "one is made each night while the engine runs")
    age_s = max(0.0, case.wall_us() / 1_000_000 - made[-1])
    says = f"{len(made)} in all; the newest is {span(age_s)} old"
    if age_s > OLDEST_BACKUP_S:
        return care(
            "backups", says, "let the engine run over night, and see that the disk has room"
        )
    return well("backups", says)


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    where = path.resolve().as_uri()
    try:
        database = sqlite3.connect(f"{where}?mode=ro", uri=True, timeout=5.0)
        database.execute("SELECT 1 FROM sqlite_schema LIMIT 1")
    except sqlite3.OperationalError:
        # On a disk that can't be written, a file in WAL mode opens only as one that never changes.
        database = sqlite3.connect(f"{where}?immutable=1", uri=True, timeout=5.0)
    with closing(database):
        yield database


def _book(database: sqlite3.Connection) -> Book:
    sessions, began_us = database.execute(
        "SELECT count(*), max(began_wall_us) FROM session"
    ).fetchone()
    newest = "SELECT wall_us FROM remark ORDER BY id DESC LIMIT 1"
    said_us = (database.execute(newest).fetchone() or (None,))[0]
    times = [time_us for time_us in (began_us, said_us) if time_us is not None]
    stamps = "SELECT name FROM sqlite_schema WHERE name = 'alembic_version'"
    stamped = database.execute(stamps).fetchone() is not None
    rows = database.execute("SELECT version_num FROM alembic_version") if stamped else ()
    version = next((str(row[0]) for row in rows), "")
    return Book(int(sessions), max(times, default=None), version)


def _fault(database: sqlite3.Connection) -> str | None:
    said = [str(row[0]) for row in database.execute("PRAGMA quick_check(3)")]
    return None if said == ["ok"] else "; ".join(" ".join(line.split()) for line in said)


def _sound(path: Path, book: Book) -> Finding:
    aside = sorted(
        found.name
        for word in SET_ASIDE
        for found in path.parent.glob(f"{path.stem}-{word}-*{path.suffix}")
    )
    if aside:
        do = "keep what you need of them, and move them away"
        return care("logbook", f"{path} is sound, but files were set aside: {', '.join(aside)}", do)
    if book.version > HEAD:
        do = "install the newer Spurlock that made it"
        return care("logbook", f"{path} is of a later version ({book.version})", do)
    count = "1 session" if book.sessions == 1 else f"{book.sessions} sessions"
    return well("logbook", f"{path} is sound; {count}")


def _damaged(path: Path, fault: str) -> Finding:
    do = "stop the appliance, and restore a backup"
    return care("logbook", f"{path} is damaged ({fault})", do)


def _unread(path: Path, error: sqlite3.Error) -> Finding:
    text = str(error)
    if "locked" in text:
        do = "close the program that holds it; guarding goes on meanwhile"
        return care("logbook", f"{path} is locked by another program", do)
    if "malformed" in text or "I/O" in text:
        return _damaged(path, text)
    do = "see that it is a logbook, and that this user may read it and its folder"
    return unreadable("logbook", f"{path}: {text}", do)
