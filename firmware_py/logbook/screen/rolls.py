"""Roll tests of cars, as the host measured them."""

from __future__ import annotations

from typing import Annotated

import msgspec
from sqlalchemy import Engine, delete, insert, select

from firmware_py.logbook.errors import telling
from firmware_py.logbook.tables import ROLL

Millimetres = Annotated[float, msgspec.Meta(gt=0, le=100_000)]
Speed = Annotated[float, msgspec.Meta(ge=0, le=20_000)]
"""Millimetres a second on the layout."""


class Tilt(msgspec.Struct, frozen=True, tag="tilt", tag_field="way", forbid_unknown_fields=True):
    """A board tilted until a nudged car keeps an even speed."""

    rise_mm: Millimetres
    run_mm: Millimetres


class Ramp(msgspec.Struct, frozen=True, tag="ramp", tag_field="way", forbid_unknown_fields=True):
    """A ramp let down to level track: its height, and the whole level-measured way to rest."""

    height_mm: Millimetres
    to_rest_mm: Millimetres


class Speeds(
    msgspec.Struct, frozen=True, tag="speeds", tag_field="way", forbid_unknown_fields=True
):
    """Two speeds on level track, and how far apart they were taken; the second is 0 at rest."""

    first_mm_s: Speed
    second_mm_s: Speed
    apart_mm: Millimetres


Measured = Tilt | Ramp | Speeds


class Roll(msgspec.Struct, frozen=True):
    """A car's test."""

    car: str
    measured: Measured
    id: int = 0


def rolls_of(engine: Engine, layout_name: str) -> list[Roll]:
    """Read a layout's, in the order they were made. Raises :class:`LogbookError`, as all here."""
    wanted = select(ROLL).where(ROLL.c.layout_name == layout_name).order_by(ROLL.c.id)
    with telling(engine), engine.connect() as connection:
        rows = connection.execute(wanted).all()
    found = []
    for row in rows:
        try:
            measured = msgspec.json.decode(row.measured, type=Measured)
        except msgspec.MsgspecError:
            continue  # A spoilt row must not hide the others.
        found.append(Roll(row.car, measured, row.id))
    return found


def save_roll(engine: Engine, layout_name: str, roll: Roll, wall_us: int) -> int:
    """Keep a new one. Returns its id."""
    values = {
        "layout_name": layout_name,
        "car": roll.car,
        "measured": msgspec.json.encode(roll.measured).decode(),
        "wall_us": wall_us,
    }
    with telling(engine), engine.begin() as connection:
        made = connection.execute(insert(ROLL).values(values)).inserted_primary_key
        return int(made[0]) if made else 0


def forget_roll(engine: Engine, number: int) -> bool:
    """Throw one away; false where there is none."""
    with telling(engine), engine.begin() as connection:
        return connection.execute(delete(ROLL).where(ROLL.c.id == number)).rowcount > 0
