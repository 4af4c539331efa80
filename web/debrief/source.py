"""Reads what a debrief is made from, and no more than that: a thousand entries at a time."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from sqlalchemy import Engine, func, or_, select

from firmware_py.layout.model import Layout
from firmware_py.logbook.errors import telling
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.records import EntryRecord, StandingRecord
from firmware_py.logbook.tables import GATHERED, SESSION, TAPE, VIOLATION
from web.debrief.evening import KeyOut

BATCH = 1_000


@dataclass(frozen=True, slots=True)
class Header:
    """A session for work, as the list of them shows it. ``newest`` is the logbook's newest."""

    id: int
    layout_name: str
    began_wall_us: int
    ended_wall_us: int | None
    ended_t_us: int | None
    newest: bool
    opened: bool = True

    @property
    def ended(self) -> bool:
        """Whether it is over: closed, or cut off with another one after it."""
        return self.ended_t_us is not None or not self.newest


def headers(engine: Engine, limit: int = 60) -> list[Header]:
    """The sessions that a host opened, newest first. Raises ``LogbookError``, as all here do."""
    return _headers(engine, limit=limit)


def header(engine: Engine, session_id: int) -> Header | None:
    """One session, opened or not; ``None`` where there is none of that number."""
    return next(iter(_headers(engine, session_id=session_id)), None)


def _headers(engine: Engine, *, limit: int = 1, session_id: int | None = None) -> list[Header]:
    c = SESSION.c
    gathered = select(GATHERED.c.session_id)
    newest = select(func.max(c.id)).where(c.id.not_in(gathered)).scalar_subquery()
    newest_of_boxes = select(func.max(GATHERED.c.session_id)).group_by(GATHERED.c.incarnation)
    runs = or_(c.id == newest, c.id.in_(newest_of_boxes))
    fields = (c.id, c.layout_name, c.began_wall_us, c.ended_wall_us, c.ended_t_us)
    told = c.layout_toml != ""  # A board's own session has no layout: its boxes' have.
    wanted = select(*fields, runs, c.opened).where(told).order_by(c.id.desc()).limit(limit)
    chosen = wanted.where(c.opened) if session_id is None else wanted.where(c.id == session_id)
    with telling(engine), engine.connect() as connection:
        return [Header(*row) for row in connection.execute(chosen)]


@dataclass(frozen=True, slots=True)
class About:
    """The rest of a session's row that a debrief needs."""

    outset: Mapping[str, object]
    layout_toml: str
    layout_path: str
    tape_gap: str | None


def about(engine: Engine, session_id: int) -> About:
    """Read it; the session is there."""
    c = SESSION.c
    wanted = select(c.outset, c.layout_toml, c.layout_path, c.tape_gap).where(c.id == session_id)
    with telling(engine), engine.connect() as connection:
        row = connection.execute(wanted).one()
    return About(json.loads(row.outset), row.layout_toml, row.layout_path, row.tape_gap)


def entries_of(
    reader: Reader, session_id: int, kinds: Collection[str] | None = None
) -> Iterator[EntryRecord]:
    """All entries of a session, oldest first, in flat memory."""
    after = 0
    while batch := reader.entries(session_id, after, BATCH, kinds):
        yield from batch
        after = batch[-1].id
        if len(batch) < BATCH:
            return


def violation_count(engine: Engine, session_id: int) -> int:
    """How many violations a session had."""
    wanted = select(func.count()).select_from(VIOLATION).where(VIOLATION.c.session_id == session_id)
    with telling(engine), engine.connect() as connection:
        return connection.scalar(wanted) or 0


def last_entry(reader: Reader, session_id: int) -> tuple[int, int] | None:
    """The last entry of any kind: its session time and its wall time."""
    return next(((one.t_us, one.wall_us) for one in reader.newest_entries(session_id, 1)), None)


def keys_out_at_end(
    engine: Engine, session_id: int, layout: Layout, *, whole: bool
) -> tuple[KeyOut, ...]:
    """The keys not on their hooks as a session ended, by the last line of its tape about each.

    Where the tape is not ``whole``, a key that seems home is not known to be.
    """
    hooks = {key.hook.name: key.id for key in layout.keys}
    c = TAPE.c
    wanted = select(c.contact, c.made).where(c.session_id == session_id, c.contact.in_(hooks))
    last: dict[str, bool | None] = {}
    with telling(engine), engine.connect() as connection:
        for contact, made in connection.execute(wanted.order_by(c.id)):
            last[contact] = made
    sure = {name: made for name, made in last.items() if whole or made is False}
    return keys_out(hooks, sure)


def keys_out_now(layout: Layout, standing: Mapping[str, StandingRecord]) -> tuple[KeyOut, ...]:
    """The keys not on their hooks as things stand."""
    hooks = {key.hook.name: key.id for key in layout.keys}
    return keys_out(hooks, {name: one.settled for name, one in standing.items() if name in hooks})


def keys_out(hooks: Mapping[str, str], made: Mapping[str, bool | None]) -> tuple[KeyOut, ...]:
    """Those of ``hooks`` (key by contact) that are not known to be made."""
    return tuple(
        KeyOut(key, made.get(hook) is not None)
        for hook, key in hooks.items()
        if made.get(hook) is not True
    )
