"""What goes wrong with a logbook, in words for the person who has to put it right."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

GONE = "the file is gone"

_HINTS = (
    (GONE, "it was moved or deleted; the engine makes it anew when it next writes"),
    ("locked", "another program keeps it locked; close that program or wait until it is done"),
    ("is full", "its disk is full; free some space there"),
    ("readonly", "it can't be written; give this user the right to write it and its folder"),
    ("not a database", "it is not an SQLite database; name another file, or move this one away"),
    ("malformed", "it is damaged; move it away, and a new one is begun"),
    ("unable to open", "it can't be opened; give this user the right to read and write it"),
    ("disk i/o", "its disk can't be read or written; check the card or disk it is on"),
)


class LogbookError(Exception):
    """The logbook can't do what was asked; the text says what, where and what would be right."""


def reason(trouble: BaseException) -> str:
    """Why the database refused, in one line: with what would be right where that is known."""
    cause = trouble.orig if isinstance(trouble, DBAPIError) and trouble.orig else trouble
    text = " ".join(str(cause).split()) or type(cause).__name__
    for sign, hint in _HINTS:
        if sign in text.lower():
            return f"{hint} ({text})"
    return text


def place(engine: Engine) -> str:
    """Where a logbook is: a file's path, or a server's URL with the password hidden."""
    url = engine.url
    if url.get_backend_name() == "sqlite" and url.database:
        return url.database
    return url.render_as_string(hide_password=True)


@contextmanager
def telling(engine: Engine) -> Iterator[None]:
    """Turn whatever the database raises inside into a :class:`LogbookError` that names it."""
    try:
        yield
    except SQLAlchemyError as trouble:
        raise LogbookError(f"{place(engine)}: {reason(trouble)}") from trouble
