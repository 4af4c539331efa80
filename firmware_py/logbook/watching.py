"""Noticing cheaply that someone else has written to the logbook."""

from __future__ import annotations

import sqlite3
import threading
from typing import Any

from sqlalchemy import Connection, Engine, Select, func, select

from firmware_py.logbook.errors import LogbookError, place, reason, telling
from firmware_py.logbook.files import Identity, identity, sqlite_file
from firmware_py.logbook.tables import (
    BY_HAND,
    ENTRY,
    JOB,
    PULSE,
    REMARK,
    REQUEST,
    SESSION,
    SITTING,
    STANDING,
    TAPE,
    TICK,
    VIOLATION,
)


class Watch:
    """Counts the changes it has noticed. Safe to share between threads.

    On SQLite it asks a kept connection for ``PRAGMA data_version``, which costs microseconds
    and touches no table; on other databases it compares the highest ids and latest times.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._sqlite = engine.dialect.name == "sqlite"
        self._lock = threading.Lock()
        self._kept: Connection | None = None
        self._cursor: Any = None
        path = sqlite_file(engine)
        self._path = str(path) if path else None
        self._known: Identity | None = None
        self._mark: tuple[object, ...] | None = None
        self._version = 0

    def version(self) -> int:
        """Give a number that grows whenever the logbook has changed since the last call.

        Any number of listeners can each remember the number that they have seen. Raises
        :class:`LogbookError` if the database can't be asked; the next call connects anew and
        counts that as a change.
        """
        with self._lock, telling(self._engine):
            try:
                mark = self._look()
            except BaseException:
                self._let_go()
                raise
            if mark != self._mark:
                self._mark = mark
                self._version += 1
            return self._version

    def close(self) -> None:
        """Give the kept connection back; a later call of :meth:`version` takes another."""
        with self._lock:
            self._let_go()

    def _look(self) -> tuple[object, ...]:
        known = identity(self._path) if self._path else None
        if self._kept is not None and known != self._known:
            self._let_go()  # Another file has the logbook's name now.
        self._known = known
        if self._kept is None:
            connection = self._engine.connect()
            self._kept = connection.execution_options(isolation_level="AUTOCOMMIT")
        if self._sqlite:
            return (self._data_version(self._kept),)
        return tuple(self._kept.execute(_MARKS).one())

    def _data_version(self, kept: Connection) -> object:
        """Ask the driver itself: this is asked many times a second, and seldom is it news."""
        try:
            if self._cursor is None:
                self._cursor = kept.connection.cursor()
            return self._cursor.execute("PRAGMA data_version").fetchone()[0]
        except sqlite3.Error as trouble:
            raise LogbookError(f"{place(self._engine)}: {reason(trouble)}") from trouble

    def _let_go(self) -> None:
        kept, self._kept, self._mark = self._kept, None, None
        self._cursor = None
        if kept is not None:
            kept.invalidate()
            kept.close()


def _marks() -> Select[tuple[object, ...]]:
    """One row that changes with every write, from indexes and small tables only."""
    return select(
        select(func.max(SESSION.c.id)).scalar_subquery(),
        select(func.count(SESSION.c.ended_wall_us)).scalar_subquery(),
        select(func.max(TAPE.c.id)).scalar_subquery(),
        select(func.max(ENTRY.c.id)).scalar_subquery(),
        select(func.sum(VIOLATION.c.times)).scalar_subquery(),
        select(func.count(VIOLATION.c.acknowledged_t_us)).scalar_subquery(),
        select(func.max(STANDING.c.wall_us)).scalar_subquery(),
        select(func.sum(STANDING.c.edges)).scalar_subquery(),
        select(func.max(REQUEST.c.id)).scalar_subquery(),
        select(func.count(REQUEST.c.answered_wall_us)).scalar_subquery(),
        select(func.count(BY_HAND.c.output)).scalar_subquery(),
        select(func.sum(BY_HAND.c.until_t_us)).scalar_subquery(),
        select(func.max(REMARK.c.id)).scalar_subquery(),
        select(func.max(PULSE.c.beat)).scalar_subquery(),
        select(func.max(JOB.c.changed_wall_us)).scalar_subquery(),
        select(func.count(JOB.c.dropped_wall_us)).scalar_subquery(),
        select(func.count(TICK.c.step)).scalar_subquery(),
        select(func.max(SITTING.c.id)).scalar_subquery(),
        select(func.max(SITTING.c.beat)).scalar_subquery(),
    )


_MARKS = _marks()
