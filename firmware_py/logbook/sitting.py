"""A commissioning's sitting in the logbook: what it shows now, for the screen to read.

What is shown is not worth waiting for the disk: it is committed, but not synchronised, so that a
slow card holds up no step. What a builder answered, and what was seen, is kept elsewhere.
"""

from __future__ import annotations

import msgspec
from sqlalchemy import Engine, delete, event, insert, select, update
from sqlalchemy.engine.interfaces import DBAPIConnection

from firmware_py.logbook.errors import telling
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.tables import SITTING

_RELAXED = "PRAGMA synchronous = NORMAL"  # In WAL mode: no flush of the disk at a commit.


class SittingRecord(msgspec.Struct, frozen=True):
    """A sitting: ``about`` and ``shown`` are JSON, in the shapes of ``commissioning.showing``."""

    id: int
    commissioning_id: int
    about: str
    shown: str
    beat: int


class Showing:
    """The one who shows a sitting. It opens the logbook a second time, as ``url`` has it.

    Raises :class:`LogbookError` wherever the database can't be used.
    """

    def __init__(self, url: str, commissioning_id: int, about: str, shown: str) -> None:
        self._engine = open_engine(url)
        if self._engine.dialect.name == "sqlite":
            event.listen(self._engine, "connect", _relax)
            self._engine.dispose()  # Those that are open already were set up before.
        self._beat = 0
        columns = {"commissioning_id": commissioning_id, "about": about, "shown": shown, "beat": 0}
        try:
            with telling(self._engine), self._engine.begin() as connection:
                made = connection.execute(insert(SITTING).values(columns)).inserted_primary_key
                self.id = int(made[0]) if made else 0
                connection.execute(delete(SITTING).where(SITTING.c.id != self.id))
        except BaseException:
            self._engine.dispose()
            raise

    def show(self, shown: str | None) -> None:
        """Show something else, or (``None``) only that the sitting still lives."""
        self._beat += 1
        columns: dict[str, object] = {"beat": self._beat}
        if shown is not None:
            columns["shown"] = shown
        mine = update(SITTING).where(SITTING.c.id == self.id)
        with telling(self._engine), self._engine.begin() as connection:
            connection.execute(mine.values(columns))

    def close(self) -> None:
        """Close the logbook; what was shown last stays."""
        self._engine.dispose()


def newest_sitting(engine: Engine) -> SittingRecord | None:
    """The newest sitting, whether it still lives or not. Raises :class:`LogbookError`."""
    c = SITTING.c
    wanted = select(c.id, c.commissioning_id, c.about, c.shown, c.beat)
    with telling(engine), engine.connect() as connection:
        row = connection.execute(wanted.order_by(c.id.desc()).limit(1)).first()
    return None if row is None else SittingRecord(*row)


def forget_sitting(engine: Engine) -> None:
    """Forget what was shown last: a commissioning goes on, or begins, that shows nothing.

    Raises :class:`LogbookError`.
    """
    with telling(engine), engine.begin() as connection:
        connection.execute(delete(SITTING))


def _relax(raw: DBAPIConnection, _record: object) -> None:
    cursor = raw.cursor()
    cursor.execute(_RELAXED)
    cursor.close()
