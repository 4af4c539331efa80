"""Which version of the tables a database has; asked without loading Alembic, which is slow."""

from __future__ import annotations

from sqlalchemy import Column, Connection, MetaData, String, Table, insert, inspect, select

FIRST = "0001"
KNOWN = (FIRST, "0002", "0003", "0004", "0005", "0006", "0007", "0008", "0009")
"""The migrations' names, oldest first."""

HEAD = KNOWN[-1]

LATER = frozenset(
    {("session", "tape_gap"), ("session", "opened"), ("request", "output"), ("entry", "seq")}
)
"""Columns that migrations have added since the first version, each with its table."""

LATER_TABLES = frozenset(
    {
        "job",
        "tick",
        "setting",
        "signin",
        "access",
        "commissioning",
        "by_hand",
        "sitting",
        "forecast",
        "locomotive",
        "roll",
        "node",
        "incarnation",
        "gathered",
        "errand",
    }
)
"""Tables that migrations have added since the first version."""

# As Alembic itself makes it.
_STAMP = Table("alembic_version", MetaData(), Column("version_num", String(32), primary_key=True))


def version_of(connection: Connection) -> str | None:
    """The version that a database is stamped with; ``None`` where it is not stamped.

    The very first builds stamped nothing: see :func:`is_unstamped`.
    """
    if not inspect(connection).has_table(_STAMP.name):
        return None
    return connection.scalar(select(_STAMP.c.version_num))


def is_unstamped(connection: Connection) -> bool:
    """Whether the database holds tables of ours, but no stamp: an early build has made it."""
    return version_of(connection) is None and inspect(connection).has_table("session")


def stamp(connection: Connection, version: str = HEAD) -> None:
    """Write the version of a database that has none yet; the caller commits."""
    _STAMP.create(connection, checkfirst=True)
    connection.execute(insert(_STAMP).values(version_num=version))
