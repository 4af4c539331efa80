"""The board's tables, written in the transaction that the caller opens and commits."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import msgspec
from sqlalchemy import Connection, Table, and_, bindparam, delete, func, insert, or_, select, update
from sqlalchemy.dialects import postgresql, sqlite

from firmware_py.club.messages import Contact, Entry, Remark, Session, Tally, Violation
from firmware_py.gathering.names import on_board
from firmware_py.logbook.tables import (
    ENTRY,
    GATHERED,
    INCARNATION,
    NODE,
    REMARK,
    REQUEST,
    SESSION,
    STANDING,
    VIOLATION,
)

Values = dict[str, Any]


class Position(NamedTuple):
    """How far an incarnation's log was gathered."""

    entry: int
    remark: int


def nodes(connection: Connection) -> dict[str, int]:
    """The row id of every box by its name."""
    return {row.name: row.id for row in connection.execute(select(NODE.c.name, NODE.c.id))}


def add_node(connection: Connection, name: str, wall_us: int) -> int:
    """Make a box's row; the answer is its id: the lowest that is free."""
    taken = set(connection.scalars(select(NODE.c.id)))
    free = next(number for number in range(1, len(taken) + 2) if number not in taken)
    values = {"id": free, "name": name, "state": "listening", "heard_wall_us": wall_us}
    connection.execute(insert(NODE).values(values | {"revision": 0}))
    return free


class Change(NamedTuple):
    """What changes of a box's row; ``revised`` says that something else of it has changed too."""

    node_id: int
    values: Values
    revised: bool


def change_nodes(connection: Connection, changes: Iterable[Change]) -> None:
    """Change boxes' rows, those that change alike with one statement."""
    alike: dict[tuple[str, ...], list[Values]] = {}
    for one in changes:
        row = {"of": one.node_id, "more": int(one.revised)}
        row |= {f"to_{name}": value for name, value in one.values.items()}
        alike.setdefault(tuple(one.values), []).append(row)
    for names, rows in alike.items():
        values: Values = {name: bindparam(f"to_{name}") for name in names}
        values["revision"] = NODE.c.revision + bindparam("more")
        connection.execute(update(NODE).where(NODE.c.id == bindparam("of")).values(values), rows)


def position(connection: Connection, incarnation: str, node_id: int, wall_us: int) -> Position:
    """How far an incarnation was gathered; one never heard of is begun.

    Raises ``ValueError`` for one that is another box's.
    """
    c = INCARNATION.c
    wanted = select(c.node_id, c.entry_seq, c.remark_seq).where(c.id == incarnation)
    row = connection.execute(wanted).first()
    if row is None:
        values = {"id": incarnation, "node_id": node_id, "entry_seq": 0, "remark_seq": 0}
        connection.execute(insert(INCARNATION).values(values | {"began_wall_us": wall_us}))
        return Position(0, 0)
    if row.node_id != node_id:
        raise ValueError("it gives the incarnation of another box")
    return Position(row.entry_seq, row.remark_seq)


def sessions(connection: Connection, incarnation: str) -> dict[int, int]:
    """The board's session of each of an incarnation's sessions."""
    c = GATHERED.c
    wanted = select(c.node_session, c.session_id).where(c.incarnation == incarnation)
    return {row.node_session: row.session_id for row in connection.execute(wanted)}


def unended(connection: Connection, incarnation: str) -> list[int]:
    """An incarnation's own ids of the sessions that the board does not know to have ended."""
    joined = GATHERED.join(SESSION, GATHERED.c.session_id == SESSION.c.id)
    mine = and_(GATHERED.c.incarnation == incarnation, SESSION.c.ended_t_us.is_(None))
    wanted = select(GATHERED.c.node_session).select_from(joined).where(mine)
    return list(connection.scalars(wanted.order_by(GATHERED.c.node_session.desc())))


def keep_session(
    connection: Connection,
    incarnation: str,
    session: Session,
    known: Mapping[int, int],
    offset_us: int,
) -> int:
    """Write a session's row, new or changed; the answer is the board's id of it."""
    if session.id in known:
        ours = known[session.id]
        changed = {
            name: getattr(session, name) for name in ("ended_wall_us", "ended_t_us", "tape_gap")
        }
        if session.ended_t_us is None:  # Word that is late must not open again what has ended.
            del changed["ended_wall_us"], changed["ended_t_us"]
        connection.execute(update(SESSION).where(SESSION.c.id == ours).values(changed))
        return ours
    values = msgspec.structs.asdict(session)
    del values["id"]
    made = connection.execute(insert(SESSION).values(values)).inserted_primary_key
    assert made, "a session has an id"
    ours = int(made[0])
    connection.execute(
        insert(GATHERED).values(
            session_id=ours, incarnation=incarnation, node_session=session.id, offset_us=offset_us
        )
    )
    return ours


@dataclass(slots=True)
class Writes:
    """What all boxes have for one transaction: written together, which costs far less.

    Whatever these rows refer to must have been written before :meth:`flush`.
    """

    entries: list[Values] = field(default_factory=list)
    remarks: list[Values] = field(default_factory=list)
    violations: list[Values] = field(default_factory=list)
    positions: dict[str, Position] = field(default_factory=dict)

    def add_entries(self, entries: Iterable[Entry], known: Mapping[int, int]) -> None:
        """Add entries, each with its id at its box. A second one of an id is refused later."""
        self.entries += [
            {
                "session_id": known[one.session],
                "seq": one.id,
                "t_us": one.t_us,
                "wall_us": one.wall_us,
                "what": one.what,
                "at": one.at,
                "spur": one.spur,
                "line": one.line,
            }
            for one in entries
        ]

    def add_remarks(self, remarks: Iterable[Remark], known: Mapping[int, int]) -> None:
        """Add remarks; one of no session, or of one that was pruned, stays without one."""
        self.remarks += [
            {
                "session_id": known.get(one.session) if one.session is not None else None,
                "t_us": one.t_us,
                "wall_us": one.wall_us,
                "text": one.text,
            }
            for one in remarks
        ]

    def add_violations(self, violations: Iterable[Violation], known: Mapping[int, int]) -> None:
        """Add violations as they stand; word of how one stood before will change nothing."""
        self.violations += [
            _violation_row(one, known) for one in violations if one.session in known
        ]

    def flush(self, connection: Connection) -> None:
        """Write all of it."""
        if self.entries:
            connection.execute(insert(ENTRY), self.entries)
        if self.remarks:
            connection.execute(insert(REMARK), self.remarks)
        if self.violations:
            connection.execute(_merging(connection), self.violations)
        if self.positions:
            moved = update(INCARNATION).where(INCARNATION.c.id == bindparam("of"))
            values: Values = {"entry_seq": bindparam("entry"), "remark_seq": bindparam("remark")}
            rows = [{"of": one, **at._asdict()} for one, at in self.positions.items()]
            connection.execute(moved.values(values), rows)


def _merging(connection: Connection) -> Any:  # noqa: ANN401 - one class for each dialect
    """A violation's insertion, or its change where it stood otherwise before."""
    adding = _insert(connection, VIOLATION)
    new = adding.excluded
    changing = ("times", "last_t_us", "acknowledged_t_us", "note")
    later = and_(
        VIOLATION.c.times <= new.times,
        or_(VIOLATION.c.acknowledged_t_us.is_(None), new.acknowledged_t_us.is_not(None)),
    )
    keys = ["session_id", "number"]
    given = {name: new[name] for name in changing}
    return adding.on_conflict_do_update(index_elements=keys, set_=given, where=later)


def tally(connection: Connection, session_id: int) -> Tally:
    """What a session's violations add up to here."""
    counts = select(
        func.count(),
        func.coalesce(func.sum(VIOLATION.c.times), 0),
        func.count(VIOLATION.c.acknowledged_t_us),
    ).select_from(VIOLATION)
    row = connection.execute(counts.where(VIOLATION.c.session_id == session_id)).one()
    return Tally(*(int(one) for one in row))


def last_change(connection: Connection, session_id: int) -> int:
    """When a session's violations changed last, as far as was gathered; -1 where there is none."""
    c = VIOLATION.c
    latest = select(func.max(c.last_t_us), func.max(c.acknowledged_t_us))
    found = connection.execute(latest.where(c.session_id == session_id)).one()
    return max((int(one) for one in found if one is not None), default=-1)


def keep_standing(
    connection: Connection, node: str, before: Mapping[str, Contact], now: Mapping[str, Contact]
) -> bool:
    """Write the contacts that stand otherwise than before; false where none does."""
    gone = [name for name in before if name not in now]
    changed = [one for name, one in now.items() if before.get(name) != one]
    if not gone and not changed:
        return False
    names = [on_board(node, name) for name in (*gone, *(one.name for one in changed))]
    for at in range(0, len(names), 500):
        connection.execute(delete(STANDING).where(STANDING.c.contact.in_(names[at : at + 500])))
    if changed:
        rows = [
            {
                "contact": on_board(node, one.name),
                "raw": one.raw,
                "settled": one.settled,
                "edges": one.edges,
                "wall_us": one.wall_us,
            }
            for one in changed
        ]
        connection.execute(insert(STANDING), rows)
    return True


def forget_standing(connection: Connection, node: str) -> None:
    """Forget how a box's contacts stood."""
    mine = STANDING.c.contact.startswith(on_board(node, ""), autoescape=True)
    connection.execute(delete(STANDING).where(mine))


def answer(
    connection: Connection, request_id: int, accepted: bool, why: str | None, wall_us: int
) -> None:
    """Answer a request of the board's own logbook, unless it has an answer."""
    open_one = and_(REQUEST.c.id == request_id, REQUEST.c.answered_wall_us.is_(None))
    values = {"answered_wall_us": wall_us, "accepted": accepted, "why": why}
    connection.execute(update(REQUEST).where(open_one).values(values))


def _violation_row(one: Violation, known: Mapping[int, int]) -> Values:
    values = msgspec.structs.asdict(one)
    values["missing"] = json.dumps(list(one.missing))
    values["session_id"] = known[values.pop("session")]
    return values


def _insert(connection: Connection, table: Table) -> Any:  # noqa: ANN401 - one class for each dialect
    if connection.dialect.name == "postgresql":
        return postgresql.insert(table)
    return sqlite.insert(table)
