"""The file under the writer: noticing that it is gone, and putting one there again."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, Engine

from firmware_py.logbook.files import (
    COMPANIONS,
    Identity,
    identity,
    put_in_place,
    set_aside,
    sqlite_file,
)
from firmware_py.logbook.memory import Memory
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.preparing import prepare
from firmware_py.logbook.salvage import Salvaged, gather, put

_REMOVED = "the logbook's file was deleted or replaced while the engine ran"
_DAMAGED = "the logbook's file was damaged while the engine ran"


class Ground:
    """Watches one logbook's file. For a server's database it finds nothing amiss, ever.

    A file that was deleted lives on, unnamed, while a connection holds it: as long as the
    writer has one, nothing is lost.
    """

    def __init__(
        self, engine: Engine, memory: Memory, now: Callable[[], datetime] = datetime.now
    ) -> None:
        self._engine = engine
        self._memory = memory
        self._now = now
        self._path = sqlite_file(engine)
        self._name = str(self._path)
        self._known = identity(self._path) if self._path else None
        self._beside: list[Identity | None] = []

    def connected(self) -> None:
        """Say that the writer has a connection, which has read something."""
        if self._path is not None:
            self._known = identity(self._path)
            self._beside = _companions(self._name)

    def disconnected(self) -> None:
        """Say that it has none any more: SQLite may take away now what it keeps beside."""
        self._beside = []

    def is_lost(self) -> bool:
        """Whether another file, or none, has the logbook's name now, or that of its WAL.

        Commits to a WAL without a name would be gone with this process.
        """
        if self._path is None:
            return False
        if identity(self._name) != self._known:
            return True
        return bool(self._beside) and _companions(self._name) != self._beside

    def recover(self, connection: Connection | None) -> str:
        """Have the logbook's name lead to our log again; the answer says what was done.

        ``connection`` is one to the file that lost its name, if there still is one: its
        content is written anew, whole. Without one, a new log begins with the session as the
        memory has it. A stranger's file that has taken the name is set aside. Raises
        ``OSError`` and ``SQLAlchemyError``; nothing is lost then, and it may be tried again.
        """
        assert self._path is not None, "only a file can be lost"
        new = _beside(self._path)
        saved = ""
        if connection is None:
            saved = self._make(new, _REMOVED, gather(self._path))
        else:
            _copy(connection, new)
        stranger = self._clear(self._path)
        self._place(new, self._path)
        kept = f"; what stood in its place is kept as {stranger.name}" if stranger else ""
        if connection is None:
            return f"{_REMOVED}{kept}; a new one goes on, without what was logged before{saved}"
        return f"{_REMOVED}{kept}; it is written again, and nothing is lost"

    def begin_anew(self, found: str) -> str:
        """Set our own file aside, because it is damaged, and go on in a new one.

        What the host has prepared comes along, as far as it can be read.
        Raises ``OSError`` and ``SQLAlchemyError``; it may be tried again then.
        """
        if self._path is None:
            return f"the logbook's database reports damage: {found}"
        new = _beside(self._path)
        saved = self._make(new, _DAMAGED, gather(self._path, self._path))
        aside = set_aside(self._path, "damaged", self._now())
        self._place(new, self._path)
        return f"{_DAMAGED} ({found}); it is kept as {aside.name}, and a new one goes on{saved}"

    def _make(self, new: Path, why: str, saved: Salvaged) -> str:
        engine = open_engine(str(new))
        try:
            with engine.begin() as connection:
                self._memory.write(connection, why)
            said = put(engine, saved)
        finally:
            engine.dispose()
        with closing(sqlite3.connect(new)) as made:
            made.execute("PRAGMA journal_mode = DELETE")  # One file, which can be renamed.
        return f"; {said}" if said else ""

    def _clear(self, path: Path) -> Path | None:
        """Free the name. What belongs to no database is of no use; a database is set aside."""
        with suppress(FileNotFoundError):
            if identity(path) != self._known and path.stat().st_size > 0:
                return set_aside(path, "stranger", self._now())
            if identity(path) != self._known:
                path.unlink()
        for ending in COMPANIONS:
            Path(f"{path}{ending}").unlink(missing_ok=True)
        return None

    def _place(self, new: Path, path: Path) -> None:
        put_in_place(new, path)
        self._known = identity(path)
        self._engine.dispose()
        prepare(self._engine, sqlite=True)


def _companions(name: str) -> list[Identity | None]:
    return [identity(name + "-wal"), identity(name + "-shm")]


def _beside(path: Path) -> Path:
    """A name for a file in the making; what an earlier try has left there goes."""
    new = path.with_name(f"{path.name}.new")
    for ending in ("", *COMPANIONS):
        Path(f"{new}{ending}").unlink(missing_ok=True)
    return new


def _copy(connection: Connection, new: Path) -> None:
    source = connection.connection.driver_connection
    assert isinstance(source, sqlite3.Connection), "only SQLite has files"
    with closing(sqlite3.connect(new)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")
