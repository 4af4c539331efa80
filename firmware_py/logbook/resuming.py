"""After a restart: the session that was cut off, and the last that is known of it."""

from __future__ import annotations

import msgspec
from sqlalchemy import Connection, Engine, func, select

from firmware_py.layout.pacing import same_but_for_waits
from firmware_py.logbook.errors import LogbookError, place, telling
from firmware_py.logbook.tables import ENTRY, SESSION, TAPE


class LastKnown(msgspec.Struct, frozen=True):
    """The last moment that a session's log tells of.

    ``t_us`` is session time, ``wall_us`` the wall's as it went then; both in microseconds.
    ``opened`` is whether the session is for work.
    """

    t_us: int
    wall_us: int
    opened: bool = True


def unended(engine: Engine, layout_toml: str) -> int | None:
    """Find the session that may go on: the newest, if nothing ended it and its layout is this one.

    ``layout_toml`` is the layout file's text; the dial it was under may differ. A session whose
    tape is not whole can't go on: a replay of it would end elsewhere. Raises
    :class:`LogbookError` if the database can't be read.
    """
    c = SESSION.c
    newest = select(c.id, c.ended_wall_us, c.layout_toml, c.tape_gap).order_by(c.id.desc())
    with telling(engine), engine.connect() as connection:
        found = connection.execute(newest.limit(1)).one_or_none()
    if found is None or found.tape_gap is not None:
        return None
    if found.ended_wall_us is not None or not same_but_for_waits(found.layout_toml, layout_toml):
        return None
    return int(found.id)


def layout_toml_of(engine: Engine, session_id: int) -> str:
    """Read the layout's text of a session. Raises :class:`LogbookError` if it can't be read."""
    wanted = select(SESSION.c.layout_toml).where(SESSION.c.id == session_id)
    with telling(engine), engine.connect() as connection:
        return connection.scalar(wanted) or ""


def entries_logged(engine: Engine, session_id: int) -> int:
    """Count a session's entries. Raises :class:`LogbookError` if the database can't be read."""
    counted = select(func.count()).select_from(ENTRY).where(ENTRY.c.session_id == session_id)
    with telling(engine), engine.connect() as connection:
        return connection.scalar(counted) or 0


def last_known(engine: Engine, session_id: int) -> LastKnown:
    """Say when the last thing in a session's log happened: an entry, or a line of its tape.

    Lines of the tape carry no wall time; theirs is reckoned from the last entry, or from the
    session's beginning. Raises :class:`LogbookError` for an unknown session.
    """
    with telling(engine), engine.connect() as connection:
        wanted = select(SESSION.c.began_wall_us, SESSION.c.opened)
        found = connection.execute(wanted.where(SESSION.c.id == session_id)).one_or_none()
        if found is None:
            raise LogbookError(
                f"{place(engine)}: there is no session {session_id}; give one that it lists"
            )
        t_us, wall_us = _last(connection, session_id, found.began_wall_us)
        return LastKnown(t_us, wall_us, found.opened)


def _last(connection: Connection, session_id: int, began_wall_us: int) -> tuple[int, int]:
    entries = select(ENTRY.c.t_us, ENTRY.c.wall_us).where(ENTRY.c.session_id == session_id)
    lines = select(TAPE.c.t_us).where(TAPE.c.session_id == session_id)
    entry = connection.execute(entries.order_by(ENTRY.c.id.desc()).limit(1)).one_or_none()
    tape_us = connection.scalar(lines.order_by(TAPE.c.id.desc()).limit(1)) or 0
    entry_us, wall_us = (0, began_wall_us) if entry is None else (entry.t_us, entry.wall_us)
    last_us = max(entry_us, tape_us)
    return last_us, wall_us + last_us - entry_us
