"""A board's requests, left in a box's logbook as the screen leaves its own: each of them once."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy import Engine, insert, select
from sqlalchemy.exc import IntegrityError

from firmware_py.logbook.errors import telling
from firmware_py.logbook.tables import ERRAND, REQUEST

Value = str | int | None


class Outcome(NamedTuple):
    """What became of an errand; ``accepted`` is ``None`` until the engine has answered."""

    id: str
    accepted: bool | None
    why: str | None


_OUTCOME = select(ERRAND.c.id, REQUEST.c.accepted, REQUEST.c.why).join(
    REQUEST, ERRAND.c.request_id == REQUEST.c.id
)


def leave_errand(engine: Engine, errand: str, columns: dict[str, Value]) -> bool:
    """Leave a request for an errand; false if that was done before. ``columns`` are the request's.

    Raises :class:`LogbookError`.
    """
    with telling(engine):
        try:
            with engine.begin() as connection:
                if connection.scalar(select(ERRAND.c.id).where(ERRAND.c.id == errand)):
                    return False
                made = connection.execute(insert(REQUEST).values(columns))
                key = made.inserted_primary_key
                assert key, "a request has a number"
                connection.execute(insert(ERRAND).values(id=errand, request_id=key[0]))
        except IntegrityError:
            return False  # Another process was a moment earlier.
    return True


def outcome(engine: Engine, errand: str) -> Outcome | None:
    """What became of one errand; ``None`` for one that was never left."""
    with telling(engine), engine.connect() as connection:
        row = connection.execute(_OUTCOME.where(ERRAND.c.id == errand)).first()
    return Outcome(*row) if row else None
