"""Locomotives as the host has measured them: what each did, and what is wanted of it."""

from __future__ import annotations

from typing import Any

import msgspec
from sqlalchemy import Engine, Row, insert, select, update

from firmware_py.logbook.errors import LogbookError, place, telling
from firmware_py.logbook.tables import LOCOMOTIVE


class Measure(msgspec.Struct, frozen=True):
    """The settings in force while it was measured: step mode, CV2, CV6, CV5 (0: not used)."""

    steps: int = 28
    start: int = 0
    middle: int = 0
    top: int = 0


class Passing(msgspec.Struct, frozen=True):
    """One pass of a trap at a throttle step: scale mph, 0 where it stood."""

    step: int
    forward: bool
    mph: float


class Wanted(msgspec.Struct, frozen=True):
    """What the host wants: scale mph at full throttle (null: half of what it can do), mm."""

    top_mph: float | None = None
    stop_mm: float = 762.0
    away_mm: float | None = None


class Stop(msgspec.Struct, frozen=True):
    """A stop that was measured: CV4 in force, the step it came from, how far, and how fast."""

    cv4: int
    from_step: int
    stopped_mm: float
    entry_mph: float | None = None


class Locomotive(msgspec.Struct, frozen=True):
    """All of it. ``id`` is 0 for one that was not saved yet."""

    name: str
    measure: Measure = Measure()
    runs: tuple[Passing, ...] = ()
    wanted: Wanted = Wanted()
    stop: Stop | None = None
    id: int = 0


def locomotives_of(engine: Engine, layout_name: str) -> list[Locomotive]:
    """Read a layout's locomotives by their names; one whose row is spoilt is left out.

    Raises :class:`LogbookError`, as everything here does, if the database can't be used.
    """
    c = LOCOMOTIVE.c
    wanted = select(LOCOMOTIVE).where(c.layout_name == layout_name, c.dropped_wall_us.is_(None))
    with telling(engine), engine.connect() as connection:
        rows = connection.execute(wanted.order_by(c.name, c.id)).all()
    return [found for found in map(_locomotive, rows) if found is not None]


def save_locomotive(engine: Engine, layout_name: str, one: Locomotive, wall_us: int) -> int:
    """Save one, a new one where its ``id`` is 0. Returns the id."""
    columns: dict[str, Any] = {
        "name": one.name,
        "drive": _json(one.measure),
        "runs": _json(one.runs),
        "wanted": _json(one.wanted),
        "stop": _json(one.stop),
        "changed_wall_us": wall_us,
    }
    with telling(engine), engine.begin() as connection:
        if not one.id:
            made = connection.execute(
                insert(LOCOMOTIVE).values(layout_name=layout_name, **columns)
            ).inserted_primary_key
            return int(made[0]) if made else 0
        chosen = update(LOCOMOTIVE).where(
            LOCOMOTIVE.c.id == one.id, LOCOMOTIVE.c.layout_name == layout_name
        )
        if not connection.execute(chosen.values(columns)).rowcount:
            raise LogbookError(f"{place(engine)}: there is no locomotive {one.id} on {layout_name}")
        return one.id


def drop_locomotive(engine: Engine, layout_name: str, number: int, wall_us: int | None) -> bool:
    """Take one away; with ``None``, bring it back. False where there is none of that number."""
    c = LOCOMOTIVE.c
    chosen = update(LOCOMOTIVE).where(c.id == number, c.layout_name == layout_name)
    with telling(engine), engine.begin() as connection:
        return connection.execute(chosen.values(dropped_wall_us=wall_us)).rowcount > 0


def _json(value: object) -> str:
    return msgspec.json.encode(value).decode()


def _locomotive(row: Row[Any]) -> Locomotive | None:
    try:
        return Locomotive(
            row.name,
            msgspec.json.decode(row.drive, type=Measure),
            msgspec.json.decode(row.runs, type=tuple[Passing, ...]),
            msgspec.json.decode(row.wanted, type=Wanted),
            msgspec.json.decode(row.stop, type=Stop | None),
            row.id,
        )
    except msgspec.MsgspecError:
        return None
