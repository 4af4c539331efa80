"""Browsers that have given the host's PIN, and who came to the door."""

from __future__ import annotations

import msgspec
from sqlalchemy import Engine, delete, insert, select

from firmware_py.logbook.errors import telling
from firmware_py.logbook.tables import ACCESS, SIGNIN
from firmware_py.logbook.texts import storable


class Access(msgspec.Struct, frozen=True):
    """One call at the door, and where it came from."""

    id: int
    wall_us: int
    what: str
    whence: str


def sign_in(engine: Engine, id_hash: str, token: str, wall_us: int) -> None:
    """Keep a sign-in. Raises :class:`LogbookError`, as everything here does."""
    with telling(engine), engine.begin() as connection:
        row = {"id_hash": id_hash, "token": token, "began_wall_us": wall_us}
        connection.execute(insert(SIGNIN).values(row))


def token_of(engine: Engine, id_hash: str, since_wall_us: int) -> str | None:
    """Read the token of a sign-in that is not older; ``None`` where there is none."""
    c = SIGNIN.c
    wanted = select(c.token).where(c.id_hash == id_hash, c.began_wall_us >= since_wall_us)
    with telling(engine), engine.connect() as connection:
        return connection.scalar(wanted)


def sign_out(engine: Engine, id_hash: str | None = None) -> None:
    """Forget a sign-in, or all of them."""
    gone = delete(SIGNIN)
    if id_hash is not None:
        gone = gone.where(SIGNIN.c.id_hash == id_hash)
    with telling(engine), engine.begin() as connection:
        connection.execute(gone)


def forget_older(engine: Engine, since_wall_us: int) -> None:
    """Forget the sign-ins that began before; nobody is let in by them any more."""
    with telling(engine), engine.begin() as connection:
        connection.execute(delete(SIGNIN).where(SIGNIN.c.began_wall_us < since_wall_us))


def note_access(engine: Engine, what: str, whence: str, wall_us: int) -> None:
    """Note a call at the door."""
    row = {"wall_us": wall_us, "what": storable(what), "whence": storable(whence)}
    with telling(engine), engine.begin() as connection:
        connection.execute(insert(ACCESS).values(row))


def accesses(engine: Engine, limit: int = 50) -> list[Access]:
    """Read the last calls, newest first."""
    with telling(engine), engine.connect() as connection:
        rows = connection.execute(select(ACCESS).order_by(ACCESS.c.id.desc()).limit(limit))
        return [Access(row.id, row.wall_us, row.what, row.whence) for row in rows]
