"""What a box's logbook holds, as messages. It only reads; every method raises ``LogbookError``."""

from __future__ import annotations

import json
import zlib
from collections.abc import Collection
from typing import Any

from sqlalchemy import Engine, Select, func, or_, select

from firmware_py.club.messages import (
    MOST_ENTRIES,
    Batch,
    Contact,
    Entry,
    Remark,
    Session,
    Standing,
    Tally,
    Violation,
    Wanted,
    encode,
)
from firmware_py.logbook.errors import telling
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import PulseRecord
from firmware_py.logbook.tables import ENTRY, REMARK, SESSION, VIOLATION

Rows = list[tuple[Any, ...]]

_ENTRY = select(
    ENTRY.c.id,
    ENTRY.c.session_id,
    ENTRY.c.t_us,
    ENTRY.c.wall_us,
    ENTRY.c.what,
    ENTRY.c.at,
    ENTRY.c.spur,
    ENTRY.c.line,
)
_SESSION = select(*(SESSION.c[name] for name in Session.__struct_fields__))
_TALLY = select(
    func.count(),
    func.coalesce(func.sum(VIOLATION.c.times), 0),
    func.count(VIOLATION.c.acknowledged_t_us),
).select_from(VIOLATION)


class Outbox:
    """Reads a box's logbook for whoever asks over the wire."""

    def __init__(self, engine: Engine, incarnation: str) -> None:
        self.incarnation = incarnation
        self._engine = engine
        self._reader = Reader(engine)

    def version(self) -> int:
        """A number that grows whenever anything was written."""
        return self._reader.version()

    def close(self) -> None:
        """Give back what was kept."""
        self._reader.close()

    def newest(self) -> tuple[int, int]:
        """The last ids of entries and of remarks; 0 where there is none."""
        found = self._rows(
            select(
                select(func.coalesce(func.max(ENTRY.c.id), 0)).scalar_subquery(),
                select(func.coalesce(func.max(REMARK.c.id), 0)).scalar_subquery(),
            )
        )
        return int(found[0][0]), int(found[0][1])

    def pulse(self) -> PulseRecord | None:
        """The engine's pulse."""
        return self._reader.pulse()

    def worked_by_hand(self) -> bool:
        """Whether an output is worked by hand."""
        return bool(self._reader.by_hand())

    def tally(self, session: int) -> Tally:
        """What a session's violations add up to."""
        rows = self._rows(_TALLY.where(VIOLATION.c.session_id == session))
        return Tally(*(int(one) for one in rows[0]))

    def newest_session(self) -> Session | None:
        """The newest session's row."""
        rows = self._rows(_SESSION.order_by(SESSION.c.id.desc()).limit(1))
        return Session(*rows[0]) if rows else None

    def sessions(self, ids: Collection[int]) -> tuple[Session, ...]:
        """Some sessions' rows, oldest first."""
        rows = self._rows(_SESSION.where(SESSION.c.id.in_(ids)).order_by(SESSION.c.id))
        return tuple(Session(*row) for row in rows)

    def entries(self, after: int, limit: int = MOST_ENTRIES) -> tuple[Entry, ...]:
        """The entries with ids above ``after``, oldest first, of whatever session."""
        wanted = _ENTRY.where(ENTRY.c.id > after).order_by(ENTRY.c.id).limit(limit)
        return tuple(Entry(*row) for row in self._rows(wanted))

    def remarks(self, after: int, limit: int = MOST_ENTRIES) -> tuple[Remark, ...]:
        """The remarks with ids above ``after``, oldest first."""
        wanted = select(REMARK).where(REMARK.c.id > after).order_by(REMARK.c.id).limit(limit)
        return tuple(Remark(*row) for row in self._rows(wanted))

    def violations(self, sessions: Collection[int]) -> tuple[Violation, ...]:
        """Every violation of some sessions as it stands now."""
        return self._violations(VIOLATION.c.session_id.in_(sessions))

    def changed(self, session: int, since_us: int) -> tuple[Violation, ...]:
        """A session's violations that were raised, repeated or acknowledged since then."""
        c = VIOLATION.c
        changed = or_(c.last_t_us >= since_us, c.acknowledged_t_us >= since_us)
        return self._violations((c.session_id == session) & changed)

    def last_change(self, session: int) -> int:
        """When a session's violations changed last, in session time; -1 where there is none."""
        c = VIOLATION.c
        latest = select(func.max(c.last_t_us), func.max(c.acknowledged_t_us))
        found = self._rows(latest.where(c.session_id == session))[0]
        return max((int(one) for one in found if one is not None), default=-1)

    def standing(self) -> Standing:
        """How every contact stands; the revision is drawn from what is told."""
        contacts = tuple(
            Contact(one.contact, one.raw, one.settled, one.edges, one.wall_us)
            for one in self._reader.standing().values()
        )
        revision = zlib.crc32(encode(Standing(self.incarnation, 0, contacts)))
        return Standing(self.incarnation, revision, contacts)

    def stretch(self, after: int, remark_after: int, known: Collection[Wanted] = ()) -> Batch:
        """What follows these ids, as much as fits a message, with what it belongs to.

        ``known`` are sessions that the board wants told anew, rows and violations. Rows of
        sessions that the stretch itself speaks of come too.
        """
        newest, newest_remark = self.newest()
        entries, remarks = self.entries(after), self.remarks(remark_after)
        spoken = {entry.session for entry in entries}
        whole = len(entries) < MOST_ENTRIES
        mine = {one.id: one.since_us for one in known}
        over = (spoken if whole else spoken - {entries[-1].session}) - set(mine)
        rows = spoken | {one.session for one in remarks if one.session is not None} | set(mine)
        changed = [
            one for ident in mine if whole for one in self.changed(ident, mine[ident])
        ]  # In the last stretch alone: until then the board would only wait longer.
        return Batch(
            self.incarnation,
            after=after,
            upto=max(entries[-1].id if entries else after, newest if whole else after),
            remark_after=remark_after,
            remark_upto=max(
                remarks[-1].id if remarks else remark_after,
                newest_remark if len(remarks) < MOST_ENTRIES else remark_after,
            ),
            entries=entries,
            remarks=remarks,
            sessions=self.sessions(rows),
            violations=(*self.violations(over), *changed),
        )

    def _violations(self, chosen: Any) -> tuple[Violation, ...]:  # noqa: ANN401 - SQLAlchemy's own
        columns = (VIOLATION.c[name] for name in _VIOLATION)
        wanted = select(*columns).where(chosen).order_by(VIOLATION.c.number)
        return tuple(_violation(row) for row in self._rows(wanted))

    def _rows(self, wanted: Select[Any]) -> Rows:
        with telling(self._engine), self._engine.connect() as connection:
            return [tuple(row) for row in connection.execute(wanted)]


_VIOLATION = ("session_id", *Violation.__struct_fields__[1:])
_MISSING = _VIOLATION.index("missing")


def _violation(row: tuple[Any, ...]) -> Violation:
    values = list(row)
    values[_MISSING] = tuple(str(one) for one in json.loads(row[_MISSING]))
    return Violation(*values)
