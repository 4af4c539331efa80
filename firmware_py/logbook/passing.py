"""When detectors became occupied, by a session's tape: from that follows which way a train ran."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import Engine, select

from firmware_py.logbook.errors import telling
from firmware_py.logbook.tables import TAPE

Edge = tuple[int, str]
"""Session time in microseconds, and the contact that was made."""


def made_edges(
    engine: Engine, session_id: int, contacts: Collection[str], newest: int | None = None
) -> list[Edge]:
    """Every raw edge into made of these contacts; of the ``newest`` lines of the tape or of all.

    Raises :class:`LogbookError` if the database can't be read.
    """
    c = TAPE.c
    wanted = select(c.t_us, c.contact, c.made).where(c.session_id == session_id)
    if newest is None:
        wanted = wanted.where(c.contact.in_(contacts))
    else:
        wanted = wanted.order_by(c.id.desc()).limit(newest)
    with telling(engine), engine.connect() as connection:
        rows = connection.execute(wanted)
        return [(t_us, name) for t_us, name, made in rows if made and name in contacts]
