"""Whether a logbook is whole: the database itself, and what its rows say of each other."""

from __future__ import annotations

import json
from collections.abc import Iterator

from sqlalchemy import Connection, Engine, select

from firmware_py.logbook.errors import reason, telling
from firmware_py.logbook.tables import ENTRY, REQUEST, TAPE, VIOLATION

MOST = 20
"""How many faults of one sort are told of."""


def faults_of_database(engine: Engine) -> Iterator[str]:
    """Say what is wrong with the database's own order, and with requests; nothing if all is well.

    Only SQLite can be asked to check itself.
    """
    with telling(engine), engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            try:
                yield from _own_checks(connection)
            except Exception as trouble:  # A database that is damaged enough can't even check.
                yield f"the database can't be checked: {reason(trouble)}"
                return
        half = REQUEST.c.answered_wall_us.is_not(None) != REQUEST.c.accepted.is_not(None)
        for id_ in connection.scalars(select(REQUEST.c.id).where(half).limit(MOST)):
            yield f"request {id_} is half answered"


def faults_of_session(engine: Engine, session_id: int) -> Iterator[str]:
    """Say what doesn't fit together in a session: its entries, violations and tape."""
    with telling(engine), engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("BEGIN")  # One moment of a logbook that is being written.
        numbers: dict[int, tuple[str, str]] = {}
        yield from _faults_of_entries(connection, session_id, numbers)
        yield from _faults_of_violations(connection, session_id, numbers)
        yield from _faults_of_tape(connection, session_id)
        connection.rollback()


def _own_checks(connection: Connection) -> Iterator[str]:
    for (found,) in connection.exec_driver_sql(f"PRAGMA integrity_check({MOST})"):
        if found != "ok":
            yield f"the database is damaged: {' '.join(str(found).split())}"
    for table, row, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        yield f"row {row} of table {table} belongs to a row of {parent} that is not there"


def _faults_of_entries(
    connection: Connection, session_id: int, numbers: dict[int, tuple[str, str]]
) -> Iterator[str]:
    c = ENTRY.c
    wanted = select(c.id, c.t_us, c.what, c.line).where(c.session_id == session_id)
    last_us = 0
    for id_, t_us, what, text in connection.execute(wanted.order_by(c.id)):
        if t_us < last_us:
            yield f"entry {id_} is earlier than the one before it"
        last_us = t_us
        try:
            line = json.loads(text)
        except ValueError:
            yield f"entry {id_} has a line that is not JSON"
            continue
        if line.get("what") != what or abs(line.get("t", -1) * 1_000_000 - t_us) > 500:
            yield f"entry {id_} and its own line tell two different things"
        if what == "violation":
            if line["number"] in numbers:
                yield f"violation {line['number']} was raised twice"
            numbers[line["number"]] = line["rule"], line["at"]


def _faults_of_violations(
    connection: Connection, session_id: int, entries: dict[int, tuple[str, str]]
) -> Iterator[str]:
    c = VIOLATION.c
    wanted = select(c.number, c.rule, c.at).where(c.session_id == session_id)
    rows = {number: (rule, at) for number, rule, at in connection.execute(wanted)}
    for number in sorted(rows.keys() | entries.keys()):
        if rows.get(number) != entries.get(number):
            yield f"violation {number} and its entry are not the same"
    for number in sorted(set(range(1, max(rows, default=0) + 1)) - rows.keys())[:MOST]:
        yield f"there is no violation {number}, and there is one with a higher number"


def _faults_of_tape(connection: Connection, session_id: int) -> Iterator[str]:
    wanted = select(TAPE.c.id, TAPE.c.t_us).where(TAPE.c.session_id == session_id)
    last_us = 0
    for id_, t_us in connection.execute(wanted.order_by(TAPE.c.id)):
        if t_us < last_us:
            yield f"line {id_} of the tape is earlier than the one before it"
        last_us = t_us
