"""Removing old sessions, so that a small card lasts."""

from __future__ import annotations

from sqlalchemy import Engine, delete, func, select
from sqlalchemy.exc import SQLAlchemyError

from firmware_py.logbook.errors import reason, telling
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import SessionRecord
from firmware_py.logbook.tables import (
    ENTRY,
    ERRAND,
    GATHERED,
    REMARK,
    REQUEST,
    SESSION,
    TAPE,
    VIOLATION,
)

DAY_US = 86_400 * 1_000_000
_EVERY = 1_000_000


def older_than(engine: Engine, days: float, now_wall_us: int) -> list[SessionRecord]:
    """The sessions last heard of more than so many days ago, oldest first; never the newest.

    A clock that was behind must not make a session look old: a session is taken to be no older
    than those before it. Times yet to come, from a clock that was ahead, tell nothing.
    """
    sessions = sorted(Reader(engine).sessions(_EVERY), key=lambda session: session.id)
    limit_us = now_wall_us - days * DAY_US
    heard_us, found = 0, []
    for session in sessions[:-1]:
        last_us = _last_heard(engine, session)
        if last_us <= now_wall_us:
            heard_us = max(heard_us, last_us)
        if heard_us < limit_us:
            found.append(session)
    return found


def prune(engine: Engine, session: SessionRecord) -> None:
    """Remove a session with all that belongs to it, or nothing. Raises ``LogbookError``.

    Answered requests that are older than the next session go with it.
    """
    with telling(engine), engine.begin() as connection:
        for table in (TAPE, ENTRY, VIOLATION, REMARK):
            connection.execute(delete(table).where(table.c.session_id == session.id))
        connection.execute(delete(GATHERED).where(GATHERED.c.session_id == session.id))
        connection.execute(delete(SESSION).where(SESSION.c.id == session.id))
        later = select(func.min(SESSION.c.began_wall_us)).where(SESSION.c.id > session.id)
        answered = REQUEST.c.answered_wall_us.is_not(None)
        old = REQUEST.c.wall_us < later.scalar_subquery()
        gone = select(REQUEST.c.id).where(answered, old)
        connection.execute(delete(ERRAND).where(ERRAND.c.request_id.in_(gone)))
        connection.execute(delete(REQUEST).where(answered, old))


def free_space(engine: Engine) -> str | None:
    """Give the disk what removed sessions took; the answer is why not, where that can't be.

    What can't be given back now is used again by what is logged next.
    """
    if engine.dialect.name != "sqlite":
        return None
    try:
        with engine.connect() as connection:
            plain = connection.execution_options(isolation_level="AUTOCOMMIT")
            plain.exec_driver_sql("VACUUM")
            plain.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    except SQLAlchemyError as trouble:
        return reason(trouble)
    return None


def _last_heard(engine: Engine, session: SessionRecord) -> int:
    if session.ended_wall_us is not None:
        return session.ended_wall_us
    latest = select(func.max(ENTRY.c.wall_us)).where(ENTRY.c.session_id == session.id)
    with telling(engine), engine.connect() as connection:
        return max(session.began_wall_us, connection.scalar(latest) or 0)
