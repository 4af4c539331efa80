"""The writer's statements, compiled once for the database and used again for every commit."""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Dialect,
    Table,
    bindparam,
    delete,
    insert,
    literal_column,
    update,
)
from sqlalchemy.sql.dml import Delete, Insert, Update

from firmware_py.logbook.rows import Step, Values
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

_ONLY = 1  # The pulse has one row.


class Ready:
    """A statement as the driver takes it.

    Without SQLAlchemy's own work for each row, a commit of one row comes close to the bare
    driver's speed. All values are plain integers, texts and truths, which need no conversion.
    """

    def __init__(
        self, statement: Insert | Update | Delete, dialect: Dialect, names: tuple[str, ...]
    ) -> None:
        keys = names if isinstance(statement, Insert) else ()
        compiled = statement.compile(dialect=dialect, column_keys=keys or None)
        self._text = str(compiled)
        self._names = names
        placed = tuple(getattr(compiled, "positiontup", None) or ())
        self._by_place = bool(placed)
        same = placed in ((), names)
        self._order = None if same else tuple(names.index(name) for name in placed)

    def run(self, connection: Connection, rows: list[Values]) -> int:
        """Run it for each row, whose values stand in the order of ``names``.

        Returns how many rows a single run has touched.
        """
        ready: list[Any] = rows
        if not self._by_place:
            ready = [dict(zip(self._names, row, strict=True)) for row in rows]
        elif self._order is not None:
            ready = [tuple(row[place] for place in self._order) for row in rows]
        given = ready[0] if len(ready) == 1 else ready
        return connection.exec_driver_sql(self._text, given).rowcount


class Statements:
    """Everything that the writer runs, for one database dialect."""

    def __init__(self, dialect: Dialect) -> None:
        self._ready = {
            step: Ready(statement, dialect, names) for step, (statement, names) in _STEPS.items()
        }
        first = ("id", "beat", "state", "session_id")
        self._first_beat = Ready(insert(PULSE).inline(), dialect, first)

    def run(self, connection: Connection, gathered: dict[Step, list[Values]]) -> None:
        """Run the gathered rows' statements, without committing."""
        for step, rows in gathered.items():
            if step is Step.PULSE:
                self._beat(connection, rows[-1])
            else:
                self._ready[step].run(connection, rows)

    def begin(self, connection: Connection, row: Values) -> int:
        """Insert a session, and forget how the last one's contacts stood; returns its id."""
        begins = dict(zip(SESSION_BEGINS, row, strict=True))
        made = connection.execute(insert(SESSION).values(begins))
        connection.execute(delete(STANDING))
        connection.execute(delete(BY_HAND))  # No hand outlasts its session.
        key = made.inserted_primary_key
        return int(key[0]) if key else 0

    def _beat(self, connection: Connection, row: Values) -> None:
        state, session_id = row
        if not self._ready[Step.PULSE].run(connection, [(state, session_id, _ONLY)]):
            self._first_beat.run(connection, [(_ONLY, 1, state, session_id)])


SESSION_BEGINS = (
    "layout_name",
    "layout_path",
    "layout_toml",
    "simulated",
    "began_wall_us",
    "outset",
    "opened",
)
"""A session's columns as it begins, in the order of its row."""


def _inserting(table: Table, but: tuple[str, ...] = ("id",)) -> tuple[Insert, tuple[str, ...]]:
    names = tuple(column.name for column in table.c if column.name not in but)
    return insert(table).inline(), names


def _of_violation(*changed: str) -> tuple[Update, tuple[str, ...]]:
    chosen = update(VIOLATION).where(
        VIOLATION.c.session_id == bindparam("of_session"),
        VIOLATION.c.number == bindparam("of_number"),
    )
    values = {name: bindparam(f"to_{name}", type_=VIOLATION.c[name].type) for name in changed}
    return chosen.values(values), (*(f"to_{name}" for name in changed), "of_session", "of_number")


def _of_id(
    table: Table, *changed: str, **more: ColumnElement[Any]
) -> tuple[Update, tuple[str, ...]]:
    values = {name: bindparam(f"to_{name}", type_=table.c[name].type) for name in changed}
    chosen = update(table).where(table.c.id == bindparam("of_id")).values(values | more)
    return chosen, (*(f"to_{name}" for name in changed), "of_id")


_Step = tuple[Insert | Update | Delete, tuple[str, ...]]

_STEPS: dict[Step, _Step] = {
    Step.TAPE: _inserting(TAPE),
    Step.ENTRY: _inserting(ENTRY, but=("id", "seq")),
    Step.NUMBERED_ENTRY: _inserting(ENTRY, but=("seq",)),
    Step.VIOLATION: _inserting(VIOLATION, but=("acknowledged_t_us", "note")),
    Step.REPEAT: _of_violation("times", "last_t_us"),
    Step.ACKNOWLEDGED: _of_violation("acknowledged_t_us", "note"),
    Step.FORGET: (
        delete(STANDING).where(STANDING.c.contact == bindparam("of_contact")),
        ("of_contact",),
    ),
    Step.STANDING: _inserting(STANDING),
    Step.ANSWER: _of_id(REQUEST, "answered_wall_us", "accepted", "why"),
    Step.REMARK: _inserting(REMARK),
    Step.PULSE: _of_id(PULSE, "state", "session_id", beat=PULSE.c.beat + literal_column("1")),
    Step.END: _of_id(SESSION, "ended_wall_us", "ended_t_us"),
    Step.HAND_OFF: (
        delete(BY_HAND).where(BY_HAND.c.output == bindparam("of_output")),
        ("of_output",),
    ),
    Step.HAND_ON: _inserting(BY_HAND),
    Step.GAP: _of_id(SESSION, "tape_gap"),
}
