"""A look into a logbook's file without SQLAlchemy, which takes longer to load than the look."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

_PIN = "SELECT 1 FROM setting WHERE name = 'pin'"


def shows_pin(logbook: str) -> bool:
    """Whether a host PIN is set; false as well for a logbook that is absent or can't be read.

    ``logbook`` is a path or a URL. Nothing is written, and an older version stays as it is.
    """
    if "://" in logbook and not logbook.startswith("sqlite:///"):
        return _asked_by_url(logbook)
    path = Path(logbook.removeprefix("sqlite:///")).expanduser()
    return path.is_file() and any(_found(path, how) for how in ("mode=ro", "immutable=1"))


def _found(path: Path, how: str) -> bool:
    # In WAL mode a file in a folder that can't be written opens only as one that never changes.
    try:
        uri = f"{path.resolve().as_uri()}?{how}"
        with closing(sqlite3.connect(uri, uri=True, timeout=5.0)) as database:
            return database.execute(_PIN).fetchone() is not None
    except sqlite3.Error:
        return False


def _asked_by_url(url: str) -> bool:
    from firmware_py.logbook.errors import LogbookError  # noqa: PLC0415
    from firmware_py.logbook.opening import open_to_read  # noqa: PLC0415
    from firmware_py.logbook.screen.pin import has_pin  # noqa: PLC0415

    try:
        database = open_to_read(url)
        try:
            return has_pin(database)
        finally:
            database.dispose()
    except LogbookError:
        return False
