"""Commissionings in the logbook: one that goes on, and the records of those that were signed."""

from __future__ import annotations

import json
from typing import Any

import msgspec
from sqlalchemy import Engine, Row, func, insert, select, update

from firmware_py.logbook.errors import LogbookError, place, telling
from firmware_py.logbook.tables import COMMISSIONING


class Signed(msgspec.Struct, frozen=True):
    """What a builder signs: the fields of 49 CFR 236.110, and when the next is due."""

    place: str
    by_whom: str
    equipment: str
    results: str
    repairs: str
    condition_left: str
    signed_wall_us: int
    due_wall_us: int


class CommissioningRecord(msgspec.Struct, frozen=True):
    """A commissioning. ``signed`` is ``None`` while it goes on; ``evidence`` is JSON text.

    ``findings`` are ``{"kind", "names", "text", "do", "longest_us", "settle_us"}``.
    """

    id: int
    layout_name: str
    simulated: bool
    began_wall_us: int
    evidence: str
    findings: tuple[dict[str, Any], ...]
    signed: Signed | None


def unfinished(engine: Engine, layout_name: str, *, simulated: bool) -> CommissioningRecord | None:
    """The newest commissioning of a layout that was not signed yet; ``None`` where all were.

    Raises :class:`LogbookError`, as everything here does, if the database can't be used.
    """
    c = COMMISSIONING.c
    mine = select(COMMISSIONING).where(c.layout_name == layout_name, c.simulated.is_(simulated))
    newest = mine.order_by(c.id.desc()).limit(1)
    with telling(engine), engine.connect() as connection:
        row = connection.execute(newest).first()
    return None if row is None or row.signed_wall_us is not None else _record(row)


def begin(engine: Engine, layout_name: str, *, simulated: bool, wall_us: int) -> int:
    """Begin one; returns its id."""
    columns = {
        "layout_name": layout_name,
        "simulated": simulated,
        "began_wall_us": wall_us,
        "evidence": "{}",
        "findings": "[]",
        **dict.fromkeys(
            ("place", "by_whom", "equipment", "results", "repairs", "condition_left"), ""
        ),
    }
    with telling(engine), engine.begin() as connection:
        key = connection.execute(insert(COMMISSIONING).values(columns)).inserted_primary_key
    return int(key[0]) if key else 0


def keep(engine: Engine, commissioning_id: int, evidence: str) -> None:
    """Keep what was seen so far, to go on with."""
    _change(engine, commissioning_id, {"evidence": evidence})


def sign(
    engine: Engine, commissioning_id: int, evidence: str, findings: str, signed: Signed
) -> None:
    """Make it a record; ``findings`` is a JSON list. A record is never changed again."""
    columns = {"evidence": evidence, "findings": findings, **msgspec.structs.asdict(signed)}
    _change(engine, commissioning_id, columns)


def records(
    engine: Engine, layout_name: str | None = None, limit: int | None = None
) -> list[CommissioningRecord]:
    """The signed ones, newest first; of one layout, or of all."""
    c = COMMISSIONING.c
    wanted = select(COMMISSIONING).where(c.signed_wall_us.is_not(None))
    if layout_name is not None:
        wanted = wanted.where(c.layout_name == layout_name)
    newest = wanted.order_by(c.id.desc()).limit(limit)
    with telling(engine), engine.connect() as connection:
        return [_record(row) for row in connection.execute(newest)]


def mark(engine: Engine) -> tuple[int, int]:
    """What changes whenever there is another record; costs little to ask for."""
    c = COMMISSIONING.c
    counts = select(func.coalesce(func.max(c.id), 0), func.count(c.signed_wall_us))
    with telling(engine), engine.connect() as connection:
        newest, signed = connection.execute(counts).one()
    return newest, signed


def record_of(engine: Engine, number: int) -> CommissioningRecord | None:
    """The signed one of that id; ``None`` where there is none."""
    c = COMMISSIONING.c
    mine = select(COMMISSIONING).where(c.id == number, c.signed_wall_us.is_not(None))
    with telling(engine), engine.connect() as connection:
        row = connection.execute(mine).first()
    return None if row is None else _record(row)


def _change(engine: Engine, commissioning_id: int, columns: dict[str, Any]) -> None:
    c = COMMISSIONING.c
    mine = update(COMMISSIONING).where(c.id == commissioning_id, c.signed_wall_us.is_(None))
    with telling(engine), engine.begin() as connection:
        if not connection.execute(mine.values(columns)).rowcount:
            raise LogbookError(
                f"{place(engine)}: there is no commissioning {commissioning_id} that goes on; "
                "a signed record is not changed: begin a new one"
            )


def _record(row: Row[Any]) -> CommissioningRecord:
    signed = None
    if row.signed_wall_us is not None:
        signed = Signed(**{name: getattr(row, name) for name in Signed.__struct_fields__})
    return CommissioningRecord(
        row.id,
        row.layout_name,
        row.simulated,
        row.began_wall_us,
        row.evidence,
        tuple(json.loads(row.findings)),
        signed,
    )
