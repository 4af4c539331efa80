"""What the screen reads: the newest session and everything logged in it.

Every method takes a connection from the pool and gives it back, so a reader may be shared by
any number of threads. All of them raise :class:`LogbookError` if the database can't be read.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Collection
from typing import Any

from sqlalchemy import Engine, Select, select

from firmware_py.logbook.errors import LogbookError, place, telling
from firmware_py.logbook.records import (
    ByHandRecord,
    EntryRecord,
    PulseRecord,
    ReadingRecord,
    RemarkRecord,
    RequestRecord,
    SessionRecord,
    StandingRecord,
    ViolationRecord,
)
from firmware_py.logbook.tables import (
    BY_HAND,
    ENTRY,
    PULSE,
    REMARK,
    REQUEST,
    SESSION,
    STANDING,
    TAPE,
    VIOLATION,
)
from firmware_py.logbook.watching import Watch

Fields = tuple[Any, ...]

_ENTRY = select(
    ENTRY.c.id,
    ENTRY.c.t_us,
    ENTRY.c.wall_us,
    ENTRY.c.what,
    ENTRY.c.at,
    ENTRY.c.spur,
    ENTRY.c.line,
)
_READING = select(TAPE.c.id, TAPE.c.t_us, TAPE.c.contact, TAPE.c.made)
_VIOLATION = select(*(column for column in VIOLATION.c if column.name != "session_id"))


class Reader:
    """Reads a logbook that ``open_engine`` has opened: ``engine``."""

    def __init__(self, engine: Engine) -> None:
        self.engine = self._engine = engine
        self._watch = Watch(engine)
        self._seen = 0
        self._lock = threading.Lock()

    def version(self) -> int:
        """Give a number that grows with every change; each listener remembers what it saw."""
        return self._watch.version()

    def changed(self) -> bool:
        """Whether anything was written since the last call; true the first time.

        This is for one listener only; several compare :meth:`version` instead.
        """
        version = self._watch.version()
        with self._lock:
            before, self._seen = self._seen, version
        return version != before

    def close(self) -> None:
        """Give back the connection that :meth:`version` and :meth:`changed` keep."""
        self._watch.close()

    def session(self) -> SessionRecord | None:
        """Read the newest session, whether it still runs or not."""
        return next(iter(self.sessions(limit=1)), None)

    def sessions(self, limit: int = 100) -> list[SessionRecord]:
        """Read the newest sessions, newest first."""
        rows = self._rows(select(SESSION).order_by(SESSION.c.id.desc()).limit(limit))
        return [_session(row) for row in rows]

    def entries(
        self,
        session_id: int,
        after_id: int = 0,
        limit: int = 1_000,
        kinds: Collection[str] | None = None,
    ) -> list[EntryRecord]:
        """Read entries with an id above ``after_id``, oldest first: of these ``kinds`` or all."""
        chosen = _of_kinds(_ENTRY.where(ENTRY.c.session_id == session_id), kinds)
        wanted = chosen.where(ENTRY.c.id > after_id).order_by(ENTRY.c.id).limit(limit)
        return [_entry(row) for row in self._rows(wanted)]

    def newest_entries(
        self, session_id: int, limit: int = 50, kinds: Collection[str] | None = None
    ) -> list[EntryRecord]:
        """Read the last entries of a session, newest first."""
        chosen = _of_kinds(_ENTRY.where(ENTRY.c.session_id == session_id), kinds)
        wanted = chosen.order_by(ENTRY.c.id.desc()).limit(limit)
        return [_entry(row) for row in self._rows(wanted)]

    def violations(self, session_id: int) -> list[ViolationRecord]:
        """Read every violation of a session as it stands now, newest first."""
        chosen = _VIOLATION.where(VIOLATION.c.session_id == session_id)
        return [_violation(row) for row in self._rows(chosen.order_by(VIOLATION.c.number.desc()))]

    def standing(self) -> dict[str, StandingRecord]:
        """Read how every contact stands now, by its name."""
        rows = self._rows(select(STANDING).order_by(STANDING.c.contact))
        return {row[0]: StandingRecord(*row) for row in rows}

    def by_hand(self) -> list[ByHandRecord]:
        """Read which outputs are worked by hand now, by their names."""
        rows = self._rows(select(BY_HAND).order_by(BY_HAND.c.output))
        return [ByHandRecord(*row) for row in rows]

    def readings(
        self, session_id: int, after_id: int = 0, limit: int = 1_000
    ) -> list[ReadingRecord]:
        """Read raw readings with an id above ``after_id``, oldest first."""
        chosen = _READING.where(TAPE.c.session_id == session_id, TAPE.c.contact.is_not(None))
        rows = self._rows(chosen.where(TAPE.c.id > after_id).order_by(TAPE.c.id).limit(limit))
        return [ReadingRecord(*row) for row in rows]

    def newest_readings(self, session_id: int, limit: int = 1_000) -> list[ReadingRecord]:
        """Read the last raw readings of a session, oldest first."""
        chosen = _READING.where(TAPE.c.session_id == session_id, TAPE.c.contact.is_not(None))
        rows = self._rows(chosen.order_by(TAPE.c.id.desc()).limit(limit))
        return [ReadingRecord(*row) for row in reversed(rows)]

    def remarks(self, session_id: int | None = None, limit: int = 50) -> list[RemarkRecord]:
        """Read the last remarks, newest first: of one session, or of all for ``None``."""
        wanted = select(REMARK).order_by(REMARK.c.id.desc()).limit(limit)
        if session_id is not None:
            wanted = wanted.where(REMARK.c.session_id == session_id)
        return [RemarkRecord(*row) for row in self._rows(wanted)]

    def remarks_after(
        self, session_id: int, after_id: int = 0, limit: int = 1_000
    ) -> list[RemarkRecord]:
        """Read a session's remarks with an id above ``after_id``, oldest first."""
        chosen = select(REMARK).where(REMARK.c.session_id == session_id, REMARK.c.id > after_id)
        rows = self._rows(chosen.order_by(REMARK.c.id).limit(limit))
        return [RemarkRecord(*row) for row in rows]

    def pulse(self) -> PulseRecord | None:
        """Read the engine's pulse; ``None`` if no engine has ever written here."""
        rows = self._rows(select(PULSE.c.beat, PULSE.c.state, PULSE.c.session_id).limit(1))
        return next((PulseRecord(*row) for row in rows), None)

    def request(self, id: int) -> RequestRecord:  # noqa: A002 - the record's own word for it
        """Read a request and its answer, if any; :class:`LogbookError` for an unknown id."""
        for row in self._rows(select(REQUEST).where(REQUEST.c.id == id)):
            return RequestRecord(*row)
        raise LogbookError(f"{place(self._engine)}: there is no request {id}; leave it first")

    def _rows(self, wanted: Select[Any]) -> list[Fields]:
        with telling(self._engine), self._engine.connect() as connection:
            return [tuple(row) for row in connection.execute(wanted)]


def _of_kinds(wanted: Select[Any], kinds: Collection[str] | None) -> Select[Any]:
    return wanted if kinds is None else wanted.where(ENTRY.c.what.in_([str(k) for k in kinds]))


def _session(row: Fields) -> SessionRecord:
    before, outset, after = row[:-3], json.loads(row[-3]), row[-2:]
    fields = (*before, outset, *after)
    return SessionRecord(*fields)


def _entry(row: Fields) -> EntryRecord:
    fields = (*row[:-1], json.loads(row[-1]))
    return EntryRecord(*fields)


def _violation(row: Fields) -> ViolationRecord:
    before, missing, after = row[:6], tuple(json.loads(row[6])), row[7:]
    fields = (*before, missing, *after)
    return ViolationRecord(*fields)
