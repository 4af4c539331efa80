"""A logged session as a tape that replays to the entries it logged."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, Engine, func, select

from firmware_py.logbook.errors import LogbookError, place, telling
from firmware_py.logbook.tables import ENTRY, SESSION, TAPE, VIOLATION

Fields = tuple[Any, ...]

_PAGE = 5_000
_LINE = select(
    TAPE.c.id,
    TAPE.c.t_us,
    TAPE.c.contact,
    TAPE.c.made,
    TAPE.c.command,
    TAPE.c.spur,
    TAPE.c.violation,
    TAPE.c.cars,
)


def tape_lines(engine: Engine, session_id: int) -> Iterator[dict[str, Any]]:
    """Give the lines of a session's tape, ``t`` in seconds exact to the microsecond.

    They come in flat memory, a page at a time, so that a slow taker holds no read lock. The
    last line is the end: when the session ended, or the last moment known of one that runs or
    was cut off. Raises :class:`LogbookError` for an unknown session or an unreadable database.
    """
    with telling(engine), engine.connect() as connection:
        last_id, end_us = _bounds(connection, session_id, place(engine))
    return _lines(engine, session_id, last_id, end_us)


def _lines(engine: Engine, session_id: int, last_id: int, end_us: int) -> Iterator[dict[str, Any]]:
    after = 0
    while rows := _page(engine, session_id, after, last_id):
        yield from map(_line, rows)
        after = rows[-1][0]
    yield {"t": end_us / 1_000_000, "end": True}


def _bounds(connection: Connection, session_id: int, where: str) -> tuple[int, int]:
    """Find the last row to take and the end. Entries first: what caused them is then there.

    That a violation came again is no entry, and yet the last that is known may be that.
    """
    entry_us, again_us = (
        connection.scalar(select(func.max(latest)).where(of_session == session_id))
        for latest, of_session in (
            (ENTRY.c.t_us, ENTRY.c.session_id),
            (VIOLATION.c.last_t_us, VIOLATION.c.session_id),
        )
    )
    last = select(func.max(TAPE.c.id), func.max(TAPE.c.t_us)).where(TAPE.c.session_id == session_id)
    last_id, tape_us = connection.execute(last).one()
    found = select(SESSION.c.ended_t_us).where(SESSION.c.id == session_id)
    session = connection.execute(found).one_or_none()
    if session is None:
        raise LogbookError(f"{where}: there is no session {session_id}; give one that it lists")
    return last_id or 0, max(session.ended_t_us or 0, tape_us or 0, entry_us or 0, again_us or 0)


def _page(engine: Engine, session_id: int, after: int, last_id: int) -> list[Fields]:
    wanted = _LINE.where(TAPE.c.session_id == session_id, TAPE.c.id > after, TAPE.c.id <= last_id)
    with telling(engine), engine.connect() as connection:
        rows = connection.execute(wanted.order_by(TAPE.c.id).limit(_PAGE))
        return [tuple(row) for row in rows]


def _line(row: Fields) -> dict[str, Any]:
    _, t_us, contact, made, command, spur, violation, cars = row
    t = t_us / 1_000_000
    if command is None:
        return {"t": t, "contact": contact, "made": made}
    about = {"spur": spur, "violation": violation, "cars": cars}
    given = {key: value for key, value in about.items() if value is not None}
    return {"t": t, "command": command, **given}
