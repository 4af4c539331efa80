"""What the screen asks of the engine: leaving requests, and finding those to be answered."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, Engine, Select, insert, select, update

from firmware_py.logbook.errors import LogbookError, place, telling
from firmware_py.logbook.records import RequestRecord
from firmware_py.logbook.tables import REQUEST
from firmware_py.logbook.texts import storable
from firmware_py.logbook.watching import Watch

ORDER = "order"
HAND = "hand"
SESSION = "session"
BY_HAND = "by-hand"
BACK = "back"
"""The command that takes a hand off an output; any other is what the output is to show."""

COMMISSION = "commission"
_MOST = 2**31 - 1


def leave_order(  # noqa: PLR0913 - one argument for each field of an order
    engine: Engine,
    command: str,
    *,
    spur: str | None = None,
    violation: int | None = None,
    cars: int | None = None,
    note: str | None = None,
    wall_us: int,
) -> int:
    """Ask the engine to give the core a command; returns the request's id.

    Whether the command makes sense is for the core to say. Raises :class:`LogbookError` if the
    request can't be written, or a number is beyond any violation or cut of cars.
    """
    for name, number in (("violation", violation), ("cars", cars)):
        if number is not None and abs(number) > _MOST:
            raise LogbookError(f"{place(engine)}: {name} is {number}; give at most {_MOST}")
    return _leave(
        engine,
        wall_us=wall_us,
        kind=ORDER,
        command=storable(command),
        spur=storable(spur),
        violation=violation,
        cars=cars,
        note=storable(note),
    )


def leave_hand(engine: Engine, contact: str, made: bool | None, wall_us: int) -> int:
    """Ask for a hand to make or break a simulated contact; returns the request's id.

    ``made`` is ``None`` for a contact that is to be lost.
    """
    return _leave(engine, wall_us=wall_us, kind=HAND, contact=storable(contact), made=made)


def leave_session(engine: Engine, command: str, wall_us: int) -> int:
    """Ask for a session to be opened (``open``) or closed (``close``); returns the request's id."""
    return _leave(engine, wall_us=wall_us, kind=SESSION, command=command)


def leave_by_hand(engine: Engine, output: str, command: str, whence: str, wall_us: int) -> int:
    """Ask for an output (``thing.output``) to be worked by hand; returns the request's id.

    ``command`` is what it is to show, or ``BACK``; ``whence`` says whose hand it is.
    """
    words = {"output": storable(output), "command": storable(command), "note": storable(whence)}
    return _leave(engine, wall_us=wall_us, kind=BY_HAND, **words)


def leave_asked(engine: Engine, asked: str, wall_us: int) -> int:
    """Ask a commissioning's sitting for something (JSON of ``Asked``); returns the request's id."""
    return _leave(engine, wall_us=wall_us, kind=COMMISSION, note=storable(asked))


def answer_asked(engine: Engine, request_id: int, why: str | None, wall_us: int) -> None:
    """Answer for a sitting: ``why`` it was refused, or ``None`` where it was accepted.

    The engine's answers go through its writer; a sitting has none. Raises :class:`LogbookError`.
    """
    mine = update(REQUEST).where(REQUEST.c.id == request_id)
    columns = {"answered_wall_us": wall_us, "accepted": why is None, "why": storable(why)}
    with telling(engine), engine.begin() as connection:
        connection.execute(mine.values(columns))


def unanswered(engine_or_conn: Engine | Connection, after_id: int = 0) -> list[RequestRecord]:
    """Read the requests above ``after_id`` that have no answer yet, oldest first."""
    wanted = _unanswered(after_id)
    if isinstance(engine_or_conn, Connection):
        with telling(engine_or_conn.engine):
            return _records(engine_or_conn, wanted)
    with telling(engine_or_conn), engine_or_conn.connect() as connection:
        return _records(connection, wanted)


class Inbox:
    """Hands each request to the engine once. For one thread, which may ask many times a second.

    The first call also gives what was left while no engine ran; ``wall_us`` tells its age.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._watch = Watch(engine)
        self._seen = 0
        self._handed: frozenset[int] = frozenset()

    def new(self) -> list[RequestRecord]:
        """Give the unanswered requests that were not handed over before, oldest first.

        Ids handed over are remembered only until they are answered, and none is skipped for
        being committed after a higher one. Raises :class:`LogbookError`; nothing is lost then.
        """
        version = self._watch.version()
        if version == self._seen:
            return []
        waiting = unanswered(self._engine)
        new = [request for request in waiting if request.id not in self._handed]
        self._handed = frozenset(request.id for request in waiting)
        self._seen = version
        return new

    def close(self) -> None:
        """Give back the kept connection."""
        self._watch.close()


def _leave(engine: Engine, **columns: str | int | None) -> int:
    with telling(engine), engine.begin() as connection:
        made = connection.execute(insert(REQUEST).values(**columns))
        key = made.inserted_primary_key
        return int(key[0]) if key else 0


def _unanswered(after_id: int) -> Select[Any]:
    open_ones = select(REQUEST).where(REQUEST.c.answered_wall_us.is_(None))
    return open_ones.where(REQUEST.c.id > after_id).order_by(REQUEST.c.id)


def _records(connection: Connection, wanted: Select[Any]) -> list[RequestRecord]:
    with _any_bytes(connection):
        return [RequestRecord(*row) for row in connection.execute(wanted)]


@contextmanager
def _any_bytes(connection: Connection) -> Iterator[None]:
    """Read U+FFFD where SQLite gives a text that is not UTF-8, which it keeps all the same.

    The table is anyone's to write: one such row must not keep all others from being read.
    """
    raw = connection.connection.driver_connection
    if not isinstance(raw, sqlite3.Connection):
        yield
        return
    strict, raw.text_factory = raw.text_factory, _readable
    try:
        yield
    finally:
        raw.text_factory = strict


def _readable(text: bytes) -> str:
    return text.decode("utf-8", "replace")
