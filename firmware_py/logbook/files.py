"""The logbook as a file on a disk: which file it is, and setting one aside without losing it."""

from __future__ import annotations

import os
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.engine import URL

COMPANIONS = ("-wal", "-shm", "-journal")
"""What SQLite keeps beside a database, under its name and these endings."""

Identity = tuple[int, int]
"""A file's device and inode: another file under the same name has another."""


def sqlite_file(where: Engine | URL) -> Path | None:
    """The file of a logbook; ``None`` for a server's, and for SQLite's own ``file:`` URLs."""
    url = where.url if isinstance(where, Engine) else where
    name = url.database
    if url.get_backend_name() != "sqlite" or not name or name.startswith("file:"):
        return None
    return Path(name)


def identity(path: Path | str) -> Identity | None:
    """Which file stands at ``path`` now; ``None`` where there is none that can be seen."""
    try:
        found = os.stat(path)  # Asked for each commit, and a text is asked for sooner.
    except OSError:
        return None
    return found.st_dev, found.st_ino


def set_aside(path: Path, word: str, now: datetime) -> Path:
    """Rename a database and what SQLite keeps beside it; the answer is its new name.

    The name tells why (``word``) and when, and is one that nothing has yet. A database that is
    gone leaves its companions behind, which are renamed just the same. Raises ``OSError``.
    """
    aside = _unused(path.with_name(f"{path.stem}-{word}-{now:%Y-%m-%d-%H%M%S}{path.suffix}"))
    for ending in (*COMPANIONS, ""):
        with suppress(FileNotFoundError):
            Path(f"{path}{ending}").rename(f"{aside}{ending}")
    sync_folder(path.parent)
    return aside


def sync_file(path: Path) -> None:
    """Have a file's content on the disk before this returns."""
    opened = os.open(path, os.O_RDWR)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def sync_folder(folder: Path) -> None:
    """Have a folder's names on the disk before this returns, where its file system can."""
    with suppress(OSError):
        opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)


def put_in_place(new: Path, path: Path) -> None:
    """Give a finished file its name, on the disk too. Raises ``OSError``."""
    sync_file(new)
    new.replace(path)
    sync_folder(path.parent)


def _unused(wanted: Path) -> Path:
    found, count = wanted, 1
    while any(Path(f"{found}{ending}").exists() for ending in (*COMPANIONS, "")):
        count += 1
        found = wanted.with_name(f"{wanted.stem}-{count}{wanted.suffix}")
    return found
