"""What a board's database holds of its boxes, read step by step."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable

import msgspec
from sqlalchemy import Engine, func, select

from firmware_py.gathering.names import on_board
from firmware_py.logbook.errors import telling
from firmware_py.logbook.reading import Fields, Reader
from firmware_py.logbook.records import (
    EntryRecord,
    RemarkRecord,
    SessionRecord,
    StandingRecord,
    ViolationRecord,
)
from firmware_py.logbook.tables import (
    ENTRY,
    GATHERED,
    JOB,
    NODE,
    PULSE,
    REMARK,
    REQUEST,
    SESSION,
    SETTING,
    STANDING,
    TICK,
    VIOLATION,
)

KEPT_ACKNOWLEDGED = 50
_MARKS = select(
    select(func.max(PULSE.c.beat)).scalar_subquery(),
    select(func.max(ENTRY.c.id)).scalar_subquery(),
    select(func.sum(NODE.c.revision)).scalar_subquery(),
    select(func.max(SESSION.c.id)).scalar_subquery(),
    select(func.max(JOB.c.changed_wall_us)).scalar_subquery(),
    select(func.count(JOB.c.dropped_wall_us)).scalar_subquery(),
    select(func.count(TICK.c.step)).scalar_subquery(),
    select(func.max(REQUEST.c.id)).scalar_subquery(),
    select(func.count(SETTING.c.name)).scalar_subquery(),
)


class NodeRecord(msgspec.Struct, frozen=True):
    """A box, as the board's gatherer has judged it."""

    id: int
    name: str
    state: str
    trouble: str | None
    session_id: int | None
    heard_wall_us: int
    offset_us: int | None
    revision: int


class Gathered(msgspec.Struct, frozen=True):
    """A box's session; ``offset_us`` is how far its clock was ahead as it was first heard of."""

    session: SessionRecord
    offset_us: int


_NODE = select(*(NODE.c[name] for name in NodeRecord.__struct_fields__)).order_by(NODE.c.name)
_OWN = select(GATHERED.c.session_id)
_ENTRY_OF = (ENTRY.c.session_id, *(ENTRY.c[name] for name in EntryRecord.__struct_fields__))


class ClubReader(Reader):
    """Reads a board's database. The session that it tells of is the board's own."""

    def __init__(self, engine: Engine) -> None:
        super().__init__(engine)
        self._club_mark: tuple[object, ...] | None = None

    def changed(self) -> bool:
        """Whether anything was written since the last call; true the first time."""
        with telling(self.engine), self.engine.connect() as connection:
            mark: tuple[object, ...] = tuple(connection.execute(_MARKS).one())
            mark += tuple(tuple(row) for row in connection.execute(_NODE))
        before, self._club_mark = self._club_mark, mark
        return mark != before

    def sessions(self, limit: int = 100) -> list[SessionRecord]:
        """Read the board's own newest sessions, newest first."""
        own = select(SESSION).where(SESSION.c.id.not_in(_OWN))
        rows = self._rows(own.order_by(SESSION.c.id.desc()).limit(limit))
        return [_session(row) for row in rows]

    def nodes(self) -> list[NodeRecord]:
        """Read every box, by name."""
        return [NodeRecord(*row) for row in self._rows(_NODE)]

    def gathered(self, session_id: int) -> Gathered | None:
        """Read a box's session."""
        joined = GATHERED.join(SESSION, SESSION.c.id == GATHERED.c.session_id)
        wanted = select(SESSION, GATHERED.c.offset_us).select_from(joined)
        for row in self._rows(wanted.where(SESSION.c.id == session_id)):
            return Gathered(_session(row[:-1]), row[-1])
        return None

    def entries_of(
        self, sessions: Collection[int], after_id: int, limit: int
    ) -> list[tuple[int, EntryRecord]]:
        """Read some sessions' entries above an id, oldest first, each with its session."""
        wanted = select(*_ENTRY_OF).where(ENTRY.c.session_id.in_(sessions), ENTRY.c.id > after_id)
        rows = self._rows(wanted.order_by(ENTRY.c.id).limit(limit))
        return [(row[0], _entry(row[1:])) for row in rows]

    def last_entry(self) -> int:
        """The highest id of an entry; 0 where there is none."""
        return int(self._rows(select(func.coalesce(func.max(ENTRY.c.id), 0)))[0][0])

    def current_violations(self, session_id: int) -> list[ViolationRecord]:
        """Read those that wait and the last few that were acknowledged, newest first."""
        columns = [column for column in VIOLATION.c if column.name != "session_id"]
        mine = select(*columns).where(VIOLATION.c.session_id == session_id)
        newest = mine.order_by(VIOLATION.c.number.desc())
        waiting = self._rows(newest.where(VIOLATION.c.acknowledged_t_us.is_(None)))
        done = newest.where(VIOLATION.c.acknowledged_t_us.is_not(None)).limit(KEPT_ACKNOWLEDGED)
        found = [_violation(row) for row in (*waiting, *self._rows(done))]
        return sorted(found, key=lambda one: -one.number)

    def standing_of(self, node: str) -> Iterable[StandingRecord]:
        """Read how a box's contacts stand, by the board's names."""
        # A range, not a pattern: the primary key's index serves it.
        low, high = on_board(node, ""), on_board(node, "\U0010ffff")
        if self.engine.dialect.name != "sqlite":
            mine = STANDING.c.contact.startswith(low, autoescape=True)
        else:
            mine = STANDING.c.contact.between(low, high)
        return [StandingRecord(*row) for row in self._rows(select(STANDING).where(mine))]

    def remarks_of(
        self, sessions: Collection[int], limit: int
    ) -> list[tuple[int | None, RemarkRecord]]:
        """Read the last remarks of some sessions, newest first."""
        wanted = select(REMARK).where(REMARK.c.session_id.in_(sessions))
        rows = self._rows(wanted.order_by(REMARK.c.id.desc()).limit(limit))
        return [(row[1], RemarkRecord(*row)) for row in rows]


def _entry(row: Fields) -> EntryRecord:
    fields = (*row[:-1], msgspec.json.decode(row[-1]))
    return EntryRecord(*fields)


def _session(row: Fields) -> SessionRecord:
    fields = (*row[:-3], json.loads(row[-3]), *row[-2:])
    return SessionRecord(*fields)


def _violation(row: Fields) -> ViolationRecord:
    fields = (*row[:6], tuple(json.loads(row[6])), *row[7:])
    return ViolationRecord(*fields)
