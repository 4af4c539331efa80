"""The logbook's files as they lie there after a kill, read with plain SQLite."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple


class LoggedEntry(NamedTuple):
    """A row of the entry table; ``line`` is its JSON text."""

    id: int
    session: int
    t_us: int
    what: str
    line: str


class LoggedViolation(NamedTuple):
    """A row of the violation table."""

    number: int
    times: int
    acknowledged: bool


class LoggedRequest(NamedTuple):
    """A row of the request table: ``accepted`` is ``None`` where the row has no answer."""

    id: int
    command: str | None
    violation: int | None
    accepted: bool | None


class Stands(NamedTuple):
    """A contact as the standing table has it."""

    raw: bool | None
    settled: bool | None


@dataclass(frozen=True)
class Log:
    """All of a logbook that the harness judges; ``session`` is the newest, or ``None``."""

    session: int | None
    sessions: int
    layout_toml: str
    entries: tuple[LoggedEntry, ...]
    tape_ids: tuple[int, ...]
    violations: Mapping[int, LoggedViolation]
    requests: tuple[LoggedRequest, ...]
    standing: Mapping[str, Stands]


def integrity(path: Path) -> str:
    """What SQLite itself finds wrong with a file: ``ok`` where that is nothing."""
    with contextlib.closing(sqlite3.connect(path)) as database:
        found = [str(row[0]) for row in database.execute("PRAGMA integrity_check")]
        strangers = database.execute("PRAGMA foreign_key_check").fetchall()
    if strangers:
        found.append(f"rows of no session: {strangers[:5]}")
    return "; ".join(found) if found != ["ok"] else "ok"


def has_tables(path: Path) -> bool:
    """Whether a first start came so far that there is anything to judge."""
    if not path.exists():
        return False
    with contextlib.closing(sqlite3.connect(path)) as database:
        found = database.execute("SELECT 1 FROM sqlite_master WHERE name = 'pulse'").fetchone()
    return found is not None


def read(path: Path) -> Log:
    """Read a logbook in one transaction."""
    with contextlib.closing(sqlite3.connect(path)) as database:
        database.execute("BEGIN")
        session = database.execute(
            "SELECT id, layout_toml FROM session ORDER BY id DESC LIMIT 1"
        ).fetchone()
        newest = session[0] if session else None
        return Log(
            session=newest,
            sessions=_count(database),
            layout_toml=session[1] if session else "",
            entries=tuple(
                LoggedEntry(*row)
                for row in database.execute(
                    "SELECT id, session_id, t_us, what, line FROM entry ORDER BY rowid"
                )
            ),
            tape_ids=tuple(
                row[0] for row in database.execute("SELECT id FROM tape ORDER BY rowid")
            ),
            violations=_violations(database, newest),
            requests=tuple(
                LoggedRequest(row[0], row[1], row[2], _truth(row[3]))
                for row in database.execute(
                    "SELECT id, command, violation, accepted FROM request ORDER BY id"
                )
            ),
            standing={
                row[0]: Stands(_truth(row[1]), _truth(row[2]))
                for row in database.execute("SELECT contact, raw, settled FROM standing")
            },
        )


def _count(database: sqlite3.Connection) -> int:
    """The sessions, without those that were cut off in their first moment.

    Of these nobody knows how the contacts stood, so the engine begins another one.
    """
    begun = """
        SELECT count(*) FROM session WHERE id = (SELECT max(id) FROM session)
        OR id IN (SELECT session_id FROM tape) OR id IN (SELECT session_id FROM entry)
    """
    return int(database.execute(begun).fetchone()[0])


def _violations(database: sqlite3.Connection, session: int | None) -> dict[int, LoggedViolation]:
    rows = database.execute(
        "SELECT number, times, acknowledged_t_us IS NOT NULL FROM violation WHERE session_id = ?",
        (session,),
    )
    return {row[0]: LoggedViolation(row[0], row[1], bool(row[2])) for row in rows}


def _truth(value: int | None) -> bool | None:
    return None if value is None else bool(value)
