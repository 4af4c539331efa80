"""What must hold between the boxes' own logbooks and a board's database."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Engine, select

from firmware_py.gathering.names import on_board
from firmware_py.logbook.incarnation import incarnation_of
from firmware_py.logbook.tables import (
    ENTRY,
    ERRAND,
    GATHERED,
    INCARNATION,
    NODE,
    REQUEST,
    SESSION,
    STANDING,
    VIOLATION,
)

Rows = list[tuple[Any, ...]]
_VIOLATION = [column for column in VIOLATION.c if column.name != "session_id"]
_OF_NODE = GATHERED.join(INCARNATION, INCARNATION.c.id == GATHERED.c.incarnation).join(
    NODE, NODE.c.id == INCARNATION.c.node_id
)


def own_entries(database: Engine) -> Rows:
    """All entries of a box's own logbook, as a board is to hold them."""
    incarnation = incarnation_of(database)
    c = ENTRY.c
    return [
        (incarnation, *row)
        for row in _rows(
            database, select(c.session_id, c.id, c.t_us, c.wall_us, c.line).order_by(c.id)
        )
    ]


def gathered_entries(database: Engine, node: str) -> Rows:
    """All entries of a box that a board holds, in the order in which it wrote them."""
    joined = ENTRY.join(_OF_NODE, GATHERED.c.session_id == ENTRY.c.session_id)
    c = ENTRY.c
    columns = (GATHERED.c.incarnation, GATHERED.c.node_session, c.seq, c.t_us, c.wall_us, c.line)
    wanted = select(*columns).select_from(joined).where(NODE.c.name == node)
    return _rows(database, wanted.order_by(c.id))


def own_violations(database: Engine) -> Rows:
    wanted = select(VIOLATION.c.session_id, *_VIOLATION)
    return _rows(database, wanted.order_by(VIOLATION.c.session_id, VIOLATION.c.number))


def gathered_violations(database: Engine, node: str) -> Rows:
    joined = VIOLATION.join(_OF_NODE, GATHERED.c.session_id == VIOLATION.c.session_id)
    wanted = select(GATHERED.c.node_session, *_VIOLATION).select_from(joined)
    chosen = wanted.where(NODE.c.name == node)
    return _rows(database, chosen.order_by(GATHERED.c.node_session, VIOLATION.c.number))


def own_sessions(database: Engine) -> Rows:
    c = SESSION.c
    wanted = select(c.id, c.began_wall_us, c.ended_wall_us, c.ended_t_us, c.opened)
    return _rows(database, wanted.order_by(c.id))


def gathered_sessions(database: Engine, node: str) -> Rows:
    c = SESSION.c
    joined = SESSION.join(_OF_NODE, GATHERED.c.session_id == c.id)
    columns = (GATHERED.c.node_session, c.began_wall_us, c.ended_wall_us, c.ended_t_us, c.opened)
    wanted = select(*columns).select_from(joined).where(NODE.c.name == node)
    return _rows(database, wanted.order_by(GATHERED.c.node_session))


def own_standing(database: Engine) -> dict[str, Any]:
    rows = _rows(database, select(STANDING.c.contact, STANDING.c.settled))
    return {row[0]: row[1] for row in rows}


def gathered_standing(database: Engine, node: str) -> dict[str, Any]:
    own = on_board(node, "")
    wanted = select(STANDING.c.contact, STANDING.c.settled)
    rows = _rows(database, wanted.where(STANDING.c.contact.startswith(own, autoescape=True)))
    return {row[0].removeprefix(own): row[1] for row in rows}


def states(database: Engine) -> dict[str, str]:
    """How each box fares, by the board's word."""
    return {row[0]: row[1] for row in _rows(database, select(NODE.c.name, NODE.c.state))}


def difference(box: Engine, board: Engine, node: str) -> str:
    """In which way a board does not hold what a box's logbook does; empty where it does."""
    # The board first: what is written at the box meanwhile must not look lost.
    pairs = {
        "standing": (gathered_standing(board, node), own_standing(box)),
        "violations": (gathered_violations(board, node), own_violations(box)),
        "sessions": (gathered_sessions(board, node), own_sessions(box)),
        "entries": (gathered_entries(board, node), own_entries(box)),
    }
    for name, (held, wanted) in pairs.items():
        if held != wanted:
            return f"{node}: {name}: held {len(held)}, wanted {len(wanted)}"
    return ""


def doubled(board: Engine, node: str) -> str:
    """What a board holds twice, or in another order than its box; empty where all is well."""
    seen: set[tuple[Any, ...]] = set()
    last: dict[str, int] = {}
    for incarnation, _, seq, *_ in gathered_entries(board, node):
        if (incarnation, seq) in seen:
            return f"{node}: entry {seq} stands twice"
        if seq <= last.get(incarnation, 0):
            return f"{node}: entry {seq} stands after {last[incarnation]}"
        seen.add((incarnation, seq))
        last[incarnation] = seq
    return ""


def errands(box: Engine) -> Rows:
    """The requests that boards have left at a box, each with its answer."""
    joined = ERRAND.join(REQUEST, REQUEST.c.id == ERRAND.c.request_id)
    columns = (ERRAND.c.id, REQUEST.c.command, REQUEST.c.accepted)
    return _rows(box, select(*columns).select_from(joined).order_by(ERRAND.c.id))


def _rows(database: Engine, wanted: Any) -> Rows:  # noqa: ANN401 - any statement
    with database.connect() as connection:
        return [tuple(row) for row in connection.execute(wanted)]
