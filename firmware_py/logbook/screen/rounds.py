"""The sessions for work that are over: a crew's link is made for the last of them."""

from __future__ import annotations

from sqlalchemy import Engine, func, or_, select

from firmware_py.logbook.errors import telling
from firmware_py.logbook.tables import GATHERED, SESSION


def rounds(engine: Engine, limit: int = 12) -> list[int]:
    """When the sessions began that a host opened and that are over, newest first.

    In microseconds of the wall clock: ids would come again in a logbook that took the place of
    a damaged one, and with them the links of evenings that are long over. A session that is not
    the newest is over, whether it was closed or not. Raises :class:`LogbookError` if the
    database can't be read.
    """
    c = SESSION.c
    own = c.id.not_in(select(GATHERED.c.session_id))  # A board's boxes have sessions of theirs.
    newest = select(func.max(c.id)).where(own).scalar_subquery()
    over = or_(c.ended_t_us.is_not(None), c.id < newest)
    wanted = select(c.began_wall_us).where(c.opened, over, own).order_by(c.id.desc()).limit(limit)
    with telling(engine), engine.connect() as connection:
        return [int(found) for found in connection.execute(wanted).scalars()]
