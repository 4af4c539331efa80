"""Noticing that jobs, ticks or sessions have changed, without reading them."""

from __future__ import annotations

from sqlalchemy import Engine, func, select

from firmware_py.logbook.errors import telling
from firmware_py.logbook.tables import JOB, SESSION, TICK

_MARK = select(
    select(func.sum(JOB.c.changed_wall_us)).scalar_subquery(),
    select(func.count(JOB.c.id)).scalar_subquery(),
    select(func.sum(JOB.c.place * JOB.c.id)).scalar_subquery(),
    select(func.count(JOB.c.dropped_wall_us)).scalar_subquery(),
    select(func.count(TICK.c.step)).scalar_subquery(),
    select(func.sum(TICK.c.wall_us)).scalar_subquery(),
    select(func.max(SESSION.c.id)).scalar_subquery(),
    select(func.count(SESSION.c.ended_t_us)).scalar_subquery(),
)


def mark(engine: Engine) -> tuple[object, ...]:
    """What changes with them. Raises :class:`LogbookError` if the database can't be read."""
    with telling(engine), engine.connect() as connection:
        return tuple(connection.execute(_MARK).one())
