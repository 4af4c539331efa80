"""The logbook's database: a real SQLite file, and connections that fail when they are told to.

Faults are raised where SQLite raises them, so that all of SQLAlchemy and the logbook is above
them. Every statement and commit is a point at which the process may be killed; what was not
committed is then gone, as it is for a real one.
"""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

import sqlalchemy
from sqlalchemy.pool import NullPool

from firmware_py.logbook import opening

from .hub import Hub
from .steps import Trouble

WRITES = ("INSERT", "UPDATE", "DELETE", "BEGIN IMMEDIATE")
TUNED = {
    # The process is killed, never the machine: the kernel keeps what was written.
    "PRAGMA synchronous = FULL": "PRAGMA synchronous = OFF",
}
BUSY = "PRAGMA busy_timeout"
"""Nobody waits here for a lock: there is one thread, and it would wait for itself."""


class Disk:
    """One logbook file for one session after the other."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "logbook.sqlite"
        self._blank = folder / "blank.sqlite"
        self.trouble: Trouble | None = None
        self.met: set[Trouble] = set()
        self.look: sqlite3.Connection
        """A connection that is never in trouble, for those who judge."""
        self._hub: Hub | None = None
        self._random = Random(0)
        self._committed: Callable[[], None] = lambda: None
        self._open: list[_Connection] = []
        opening.open_engine(str(self._blank)).dispose()
        self._screen = self._create_engine(f"sqlite:///{self.path}", poolclass=NullPool)

    @property
    def screen(self) -> sqlalchemy.Engine:
        """What the board's process has open."""
        return self._screen

    @contextlib.contextmanager
    def session(self, hub: Hub, random: Random, committed: Callable[[], None]) -> Iterator[None]:
        """Begin with an empty logbook; ``committed`` is called after every commit."""
        for ending in ("", "-wal", "-shm"):
            Path(f"{self.path}{ending}").unlink(missing_ok=True)
        shutil.copy(self._blank, self.path)
        self._hub, self._random, self._committed = hub, random, committed
        self.trouble = None
        self.met = set()
        with (
            patch.object(opening, "create_engine", self._create_engine),
            contextlib.closing(sqlite3.connect(self.path, isolation_level=None)) as self.look,
        ):
            yield
        self._hub = None

    def lose_process(self) -> None:
        """The process that had connections is gone: the kernel closes its files."""
        connections, self._open = self._open, []
        for connection in connections:
            connection.go()

    def forget(self, connection: _Connection) -> None:
        """A connection was closed, as it should be."""
        if connection in self._open:
            self._open.remove(connection)

    def _create_engine(self, url: str | sqlalchemy.URL, **named: Any) -> sqlalchemy.Engine:  # noqa: ANN401
        return sqlalchemy.create_engine(
            url, connect_args={"factory": self._connect, "timeout": 0}, **named
        )

    def _connect(self, *given: Any, **named: Any) -> sqlite3.Connection:  # noqa: ANN401
        connection = _Connection(*given, **named)
        connection.disk = self
        self._open.append(connection)
        return connection

    # What the connections ask.

    def point(self, *, gives_way: bool = True) -> None:
        if self._hub is not None:
            self._hub.point(gives_way=gives_way)

    def before(self, sql: str) -> str:
        """Before a statement: fail, or say what to run."""
        if sql.startswith(BUSY):
            return f"{BUSY} = 0"
        writes = sql.startswith(WRITES)
        # SQLAlchemy holds a lock of its own, which no task can wait for, as it asks a database
        # what it is; it only reads then.
        self.point(gives_way=writes)
        match self.trouble:
            case Trouble.BROKEN:
                self._fail(self.trouble)
            case Trouble.LOCKED | Trouble.FULL | Trouble.READ_ONLY if writes:
                self._fail(self.trouble)
            case Trouble.FLAKY if writes and self._random.random() < 0.3:
                self._fail(self.trouble)
            case _:
                pass
        return TUNED.get(sql, sql)

    def fail_at_commit(self) -> None:
        if self.trouble in (Trouble.COMMIT, Trouble.BROKEN):
            self._fail(self.trouble)

    def has_committed(self) -> None:
        self._committed()
        if self._hub is not None:
            self._hub.committed()

    def _fail(self, trouble: Trouble) -> None:
        self.met.add(trouble)
        raise sqlite3.OperationalError(trouble.value)


class _Connection(sqlite3.Connection):
    disk: Disk
    gone = False

    def go(self) -> None:
        """Its process is gone, and with it what was not committed.

        It stays open for whatever of SQLAlchemy's tidies up after it, sooner or later.
        """
        super().rollback()
        self.gone = True

    def close(self) -> None:
        self.disk.forget(self)
        super().close()

    def cursor(self, factory: Any = None) -> Any:  # noqa: ANN401
        if self.gone:
            return super().cursor()
        cursor = super().cursor(factory or _Cursor)
        cursor.disk = self.disk
        return cursor

    def commit(self) -> None:
        if self.in_transaction and not self.gone:
            self.disk.point()
            self.disk.fail_at_commit()
            super().commit()
            self.disk.has_committed()


class _Cursor(sqlite3.Cursor):
    disk: Disk

    def execute(self, sql: str, *given: Any) -> Any:  # noqa: ANN401
        return super().execute(self.disk.before(sql), *given)

    def executemany(self, sql: str, *given: Any) -> Any:  # noqa: ANN401
        return super().executemany(self.disk.before(sql), *given)
