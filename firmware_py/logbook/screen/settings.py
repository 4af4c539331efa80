"""The screen's settings and secrets, by name."""

from __future__ import annotations

import secrets

from sqlalchemy import Engine, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from firmware_py.logbook.errors import telling
from firmware_py.logbook.tables import SETTING


def settings(engine: Engine) -> dict[str, str]:
    """Read all of them. Raises :class:`LogbookError`, as everything here does."""
    with telling(engine), engine.connect() as connection:
        return {row.name: row.value for row in connection.execute(select(SETTING))}


def setting(engine: Engine, name: str) -> str | None:
    """Read one; ``None`` where it was never set."""
    wanted = select(SETTING.c.value).where(SETTING.c.name == name)
    with telling(engine), engine.connect() as connection:
        return connection.scalar(wanted)


def change(engine: Engine, name: str, value: str | None) -> None:
    """Set one; ``None`` forgets it."""
    mine = SETTING.c.name == name
    with telling(engine), engine.begin() as connection:
        if value is None:
            connection.execute(delete(SETTING).where(mine))
        elif not connection.execute(update(SETTING).where(mine).values(value=value)).rowcount:
            connection.execute(insert(SETTING).values(name=name, value=value))


def secret(engine: Engine, name: str) -> str:
    """Read a secret of this logbook's own, drawn at the first call: 64 hexadecimal digits."""
    known = setting(engine, name)
    if known is not None:
        return known
    with telling(engine):
        try:
            with engine.begin() as connection:
                drawn = insert(SETTING).values(name=name, value=secrets.token_hex(32))
                connection.execute(drawn)
        except IntegrityError:
            pass  # Another process was a moment earlier; its secret stands.
    found = setting(engine, name)
    assert found is not None, "a secret that was drawn stands"
    return found
