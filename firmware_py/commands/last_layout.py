"""The layout that a logbook was kept for last, as its own session holds it."""

from __future__ import annotations

from sqlalchemy import Engine

from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.errors import LogbookError, place
from firmware_py.logbook.reading import Reader


def last_layout(database: Engine) -> Layout:
    """The layout that was guarded last. Raises ``LogbookError`` if none ever was."""
    reader = Reader(database)
    try:
        session = reader.session()
    finally:
        reader.close()
    if session is None:
        where = place(database)
        raise LogbookError(f"{where}: no layout was guarded with it yet; first: spurlock run")
    return parse_layout(session.layout_toml, session.layout_path)
