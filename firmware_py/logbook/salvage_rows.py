"""Whether a row of a damaged file is one that can be believed, and read by whoever needs it."""

from __future__ import annotations

from typing import Any

import msgspec
from sqlalchemy import Table

from firmware_py.commissioning.model import Evidence, Finding
from firmware_py.logbook.screen.jobs import JobStop

Row = dict[str, Any]


def sound(table: Table, raw: Row) -> Row | None:
    """A row with values that its columns can hold, or ``None``."""
    row: Row = {}
    for column in table.columns:
        value = raw.get(column.name)
        kind = column.type.python_type
        if value is None:
            if not column.nullable:
                return None
        elif kind is str:
            value = _text(value)
            if value is None:
                return None
        elif not isinstance(value, int):
            return None
        row[column.name] = bool(value) if kind is bool and value is not None else value
    return row if _READABLE.get(table.name, _any)(row) else None


def _text(value: object) -> str | None:
    try:
        text = value.decode("utf-8") if isinstance(value, bytes) else None
    except UnicodeDecodeError:
        return None
    return None if text is None or "\0" in text else text


def _is_job(row: Row) -> bool:
    """Whether the screen could read it: one that it can't would hide all others from it."""
    try:
        msgspec.json.decode(row["keys"], type=tuple[str, ...])
        msgspec.json.decode(row["stops"], type=tuple[JobStop, ...])
    except msgspec.MsgspecError:
        return False
    return True


def _is_commissioning(row: Row) -> bool:
    """Whether it can be gone on with, or read as a record."""
    try:
        msgspec.json.decode(row["evidence"], type=Evidence)
        msgspec.json.decode(row["findings"], type=tuple[Finding, ...])
    except msgspec.MsgspecError:
        return False
    return True


def _any(_row: Row) -> bool:
    return True


_READABLE = {"job": _is_job, "commissioning": _is_commissioning}
