"""The forecasts that were made, each for the session that was opened next."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from sqlalchemy import Engine, delete, func, insert, select

from firmware_py.forecast.words import Answer
from firmware_py.logbook.errors import telling
from firmware_py.logbook.tables import FORECAST, SESSION

GRACE_US = 600_000_000
"""A forecast may be made up to ten minutes after a session was opened, and still be for it."""
MOST_KEPT = 200


class Kept(msgspec.Struct, frozen=True):
    """A forecast with when it was made, in microseconds of the wall clock."""

    id: int
    wall_us: int
    answer: Answer


def keep_forecast(engine: Engine, layout_name: str, answer: Answer, wall_us: int) -> int:
    """Keep a forecast in the place of any other for the session to come; returns its id.

    Raises :class:`LogbookError`, as everything here does.
    """
    c = FORECAST.c
    mine = c.layout_name == layout_name
    row = {"layout_name": layout_name, "wall_us": wall_us}
    text = msgspec.json.encode(answer).decode()
    last = select(func.max(SESSION.c.began_wall_us)).where(
        SESSION.c.opened, SESSION.c.layout_name == layout_name
    )
    with telling(engine), engine.begin() as connection:
        since_us = (connection.scalar(last) or 0) + GRACE_US
        if wall_us > since_us:
            connection.execute(delete(FORECAST).where(mine, c.wall_us > since_us))
        older = select(c.id).where(mine).order_by(c.id.desc()).offset(MOST_KEPT).limit(MOST_KEPT)
        for ident in connection.execute(older).scalars().all():
            connection.execute(delete(FORECAST).where(c.id == ident))
        key = connection.execute(insert(FORECAST).values(row | {"answer": text}))
        made = key.inserted_primary_key
        return int(made[0]) if made else 0


def last_forecast(engine: Engine, layout_name: str) -> Kept | None:
    """Read the newest forecast of a layout; ``None`` where there is none that can be read."""
    return next(iter(_read(engine, layout_name, limit=1)), None)


def forecasts_of(engine: Engine, layout_name: str) -> list[Kept]:
    """Read all forecasts of a layout, oldest first; those of other versions are passed over."""
    return _read(engine, layout_name, limit=MOST_KEPT)[::-1]


def for_session(
    forecasts: Sequence[Kept], began_wall_us: int, before_wall_us: int | None
) -> Kept | None:
    """The forecast that a session was opened with: the last before it, after the one before.

    ``before_wall_us`` is when the session before it began, if there was one.
    """
    after_us = -1 if before_wall_us is None else before_wall_us + GRACE_US
    mine = [one for one in forecasts if after_us < one.wall_us <= began_wall_us + GRACE_US]
    return mine[-1] if mine else None


def _read(engine: Engine, layout_name: str, limit: int) -> list[Kept]:
    c = FORECAST.c
    wanted = select(c.id, c.wall_us, c.answer).where(c.layout_name == layout_name)
    with telling(engine), engine.connect() as connection:
        rows = connection.execute(wanted.order_by(c.id.desc()).limit(limit)).all()
    found = []
    for row in rows:
        try:
            answer = msgspec.json.decode(row.answer, type=Answer)
        except msgspec.DecodeError:
            continue
        found.append(Kept(row.id, row.wall_us, answer))
    return found
