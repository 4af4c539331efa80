"""Saving what the host has prepared, jobs and settings, and the builder's commissionings.

That is done when a new logbook is begun.

What the damaged file still gives comes first; what it does not give, backups may. Nothing here
ever raises: a logbook that goes on without them is better than none.
"""

from __future__ import annotations

import logging
import re
import sqlite3
import time
from collections.abc import Sized
from contextlib import closing
from dataclasses import dataclass, field
from datetime import datetime
from datetime import time as time_of_day
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, Table, insert, select
from sqlalchemy.exc import SQLAlchemyError

from firmware_py.logbook.backing_up import FROM_HOUR, backups
from firmware_py.logbook.errors import reason
from firmware_py.logbook.incarnation import SETTING as INCARNATION
from firmware_py.logbook.salvage_rows import Row, sound
from firmware_py.logbook.schema import METADATA
from firmware_py.logbook.tables import SESSION

log = logging.getLogger(__name__)

KEPT = ("job", "setting", "locomotive", "roll", "commissioning")
"""The tables whose rows are saved."""

_WHOSE = dict.fromkeys(KEPT, "the host's") | {"commissioning": "the builder's"}

READ_S = 2.0
"""How long one table of one file may take: these are small, and the engine waits."""

_STEPS = 10_000
_DAMAGED_FILE = "the damaged file"

Key = tuple[Any, ...]


@dataclass(slots=True)
class Salvaged:
    """What was saved: rows by table. ``said`` tells of it in words; empty if there was nothing."""

    rows: dict[str, list[Row]] = field(default_factory=dict)
    said: str = ""


@dataclass(frozen=True, slots=True)
class _Source:
    """A file to save from, and what to call it."""

    called: str
    path: Path


def gather(logbook: Path, damaged: Path | None = None) -> Salvaged:
    """Read jobs, settings and commissionings from ``damaged``, then from what lies beside it.

    That is earlier damaged files and backups, the newest first.
    """
    saved, words = Salvaged(), []
    try:
        sources = [_Source(_DAMAGED_FILE, damaged)] if damaged is not None else []
        sources += [source for source in _beside(logbook) if source.path != damaged]
        for name in KEPT:
            table = METADATA.tables[name]
            saved.rows[name], told = _gathered(table, sources)
            words += [told] if told else []
        saved.said = "; ".join(words)
    except Exception as trouble:
        log.exception("the host's jobs and settings could not be saved")
        saved.said = f"the host's jobs and settings could not be saved: {reason(trouble)}"
    return saved


def put(engine: Engine, saved: Salvaged) -> str:
    """Write to a new logbook what was saved; what it has already stays. Words for a remark."""
    try:
        with engine.begin() as connection:
            for name, found in saved.rows.items():
                # Ids may come again in the new file: a board must not take them for the old ones.
                rows = [row for row in found if name != "setting" or row["name"] != INCARNATION]
                if rows:
                    table = METADATA.tables[name]
                    connection.execute(insert(table).prefix_with("OR IGNORE"), rows)
    except SQLAlchemyError as trouble:
        return f"the host's jobs and settings could not be taken over: {reason(trouble)}"
    return saved.said


def fill_new(engine: Engine, logbook: Path, damaged: Path | None) -> str:
    """Put what can be saved into a logbook that has no session yet; else do nothing.

    Asked at each start, so that a power cut between setting a damaged file aside and this
    loses nothing. Words for a remark; empty if there is nothing to tell.
    """
    try:
        with engine.connect() as connection:
            used = connection.execute(select(SESSION.c.id).limit(1)).first() is not None
    except SQLAlchemyError:
        return ""
    if used:
        return ""
    saved = gather(logbook, damaged)
    if damaged is None and not any(saved.rows.values()):
        return ""
    return put(engine, saved)


def _beside(logbook: Path) -> list[_Source]:
    """Damaged files set aside earlier, and backups, the newest first by their names."""
    found: list[tuple[datetime, _Source]] = []
    named = re.compile(re.escape(logbook.stem) + r"-damaged-(\d{4}-\d\d-\d\d-\d{6})(-\d+)?")
    for path in logbook.parent.glob("*-damaged-*"):
        match = named.fullmatch(path.stem)
        if match and path.suffix == logbook.suffix:
            when = _when(match[1])
            found += [(when, _Source(f"the damaged {path.name}", path))] if when else []
    for day, path in backups(logbook).items():
        when = datetime.combine(day, time_of_day(FROM_HOUR))
        found.append((when, _Source(f"the backup of {day:%Y-%m-%d}", path)))
    found.sort(key=lambda one: one[0], reverse=True)
    return [source for _, source in found]


def _when(text: str) -> datetime | None:
    try:
        return datetime.strptime(text, "%Y-%m-%d-%H%M%S")
    except ValueError:
        return None


def _gathered(table: Table, sources: list[_Source]) -> tuple[list[Row], str]:
    """A table's rows, each from the first source that has it, and words for that."""
    taken: dict[Key, Row] = {}
    parts: list[str] = []
    for source in sources:
        found, whole = _read(source.path, table)
        new = {key: row for key, row in found.items() if key not in taken}
        taken |= new
        if whole and source is sources[0] and source.called == _DAMAGED_FILE:
            return list(taken.values()), f"{_count(table, taken)} could be saved" if taken else ""
        if new:
            parts.append(f"{len(new)} from {source.called}")
        if whole:
            break
    if not taken:
        said = f"no {table.name} of {_WHOSE[table.name]} could be saved: make anew what there was"
    else:
        said = f"{_count(table, taken)} could be saved ({', '.join(parts)}): look them over"
    return list(taken.values()), said


def _count(table: Table, rows: Sized) -> str:
    return f"{len(rows)} {table.name}{'' if len(rows) == 1 else 's'} of {_WHOSE[table.name]}"


def _read(path: Path, table: Table) -> tuple[dict[Key, Row], bool]:
    """The sound rows of a table by their keys, and whether those are all it had."""
    found: dict[Key, Row] = {}
    try:
        with closing(_opened(path)) as connection:
            there = {name for _, name, *_ in connection.execute(f"PRAGMA table_info({table.name})")}
            if not there:
                return found, True  # A version that had no such table.
            names = [column.name for column in table.columns if column.name.encode() in there]
            # From both ends: a damaged page hides only itself.
            for order in ("ASC", "DESC"):
                if _scan(connection, table, names, order, found):
                    return found, True
    except (OSError, ValueError, sqlite3.Error):
        pass
    return found, False


def _opened(path: Path) -> sqlite3.Connection:
    """Open a file such that nothing in it is ever changed."""
    beside = any(Path(f"{path}{ending}").exists() for ending in ("-wal", "-shm"))
    how = "mode=ro" if beside else "immutable=1"
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?{how}", uri=True)
    connection.text_factory = bytes  # What is damaged need not be text.
    until = time.monotonic() + READ_S
    connection.set_progress_handler(lambda: time.monotonic() > until, _STEPS)
    return connection


def _scan(
    connection: sqlite3.Connection, table: Table, names: list[str], order: str, to: dict[Key, Row]
) -> bool:
    """Take rows until there is no more, or no way to go on; whether all were read and sound."""
    columns = ", ".join(names)
    keys = [column.name for column in table.primary_key.columns]
    all_sound = True
    try:
        for values in connection.execute(
            f"SELECT {columns} FROM {table.name} NOT INDEXED ORDER BY rowid {order}"
        ):
            row = sound(table, dict(zip(names, values, strict=True)))
            if row is None:
                all_sound = False
            else:
                to.setdefault(tuple(row[key] for key in keys), row)
    except sqlite3.Error:
        return False
    return all_sound
