"""Backups of the logbook: a copy a day, made while it is in use, and the old ones rotated out."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from datetime import date, datetime
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import SQLAlchemyError

from firmware_py.logbook.errors import LogbookError, reason
from firmware_py.logbook.files import put_in_place, sqlite_file

FOLDER = "backups"
FROM_HOUR = 3
"""Local time from which a day's backup is due: when no session is likely to run."""
DAILY = 7
WEEKLY = 4

_UNFINISHED = ".part"


def backup_of(path: Path, day: date) -> Path:
    """Where a logbook's backup of a day is kept: in the folder ``backups`` beside it."""
    return path.parent / FOLDER / f"{path.stem}-{day:%Y-%m-%d}.sqlite"


def backups(path: Path) -> dict[date, Path]:
    """A logbook's backups by their day, the oldest first."""
    named = re.compile(re.escape(path.stem) + r"-(\d{4}-\d\d-\d\d)\.sqlite")
    found: dict[date, Path] = {}
    for there in sorted((path.parent / FOLDER).glob("*.sqlite")):
        if match := named.fullmatch(there.name):
            try:
                found[date.fromisoformat(match[1])] = there
            except ValueError:
                continue  # Somebody's own file, with a day that the calendar lacks.
    return found


def is_due(path: Path, now: datetime) -> bool:
    """Whether a backup is to be made: it is past three, and today has none yet.

    A box that is switched off at night makes its backup when it is switched on.
    """
    return now.hour >= FROM_HOUR and not backup_of(path, now.date()).exists()


def back_up(engine: Engine, day: date) -> Path:
    """Copy a logbook as of now, while it is being written; the answer is where the copy is.

    It gets its name when it is whole, checked, and on the disk. Raises :class:`LogbookError`.
    """
    path = sqlite_file(engine)
    if path is None:
        raise LogbookError("only a logbook in a file is backed up here; back up its server")
    wanted = backup_of(path, day)
    unfinished = wanted.with_name(wanted.name + _UNFINISHED)
    try:
        wanted.parent.mkdir(exist_ok=True)
        for left in wanted.parent.glob(f"{path.stem}-*{_UNFINISHED}*"):
            left.unlink()
        _copy(engine, unfinished)
        put_in_place(unfinished, wanted)
    except (OSError, sqlite3.Error, SQLAlchemyError) as trouble:
        unfinished.unlink(missing_ok=True)
        raise LogbookError(f"{wanted}: no backup could be made: {reason(trouble)}") from trouble
    return wanted


def rotate(path: Path, today: date) -> list[Path]:
    """Remove the backups that are no longer wanted; the answer is what was removed.

    Kept are the newest seven, and of those before them the newest of each of four weeks. Today's
    is kept in any case, and so are those with a day yet to come: when the clock was wrong, they
    must not push out the others. Raises ``OSError``.
    """
    there = {day: file for day, file in backups(path).items() if day <= today}
    kept = _kept(there) | {today}
    gone = [file for day, file in there.items() if day not in kept]
    for file in gone:
        file.unlink()
    return gone


def _kept(days: Iterable[date]) -> set[date]:
    newest_first = sorted(days, reverse=True)
    kept = set(newest_first[:DAILY])
    weeks: dict[tuple[int, int], date] = {}
    for day in newest_first[DAILY:]:
        year, week, _ = day.isocalendar()
        weeks.setdefault((year, week), day)
    return kept | set(list(weeks.values())[:WEEKLY])


def _copy(engine: Engine, to: Path) -> None:
    with engine.connect() as connection:
        source = connection.connection.driver_connection
        assert isinstance(source, sqlite3.Connection), "only SQLite has files"
        with closing(sqlite3.connect(to)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # One file, which can be carried about.
            [found] = copy.execute("PRAGMA quick_check(1)").fetchone()
    if found != "ok":
        raise sqlite3.DatabaseError(f"the copy is malformed: {found}")
