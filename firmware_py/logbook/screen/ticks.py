"""What a crew says it has done, which no contact can see."""

from __future__ import annotations

import enum

import msgspec
from sqlalchemy import Engine, delete, insert, select
from sqlalchemy.exc import IntegrityError

from firmware_py.logbook.errors import telling
from firmware_py.logbook.tables import TICK


class Step(enum.StrEnum):
    """The words of the table.

    ``here`` is that the crew has come to the stop, and ``left`` that it goes on from there; the
    others are the crew's own steps, which the host may switch off.
    """

    HERE = "here"
    YARD = "yard"
    REAR = "rear"
    HORN = "horn"
    STRETCH = "stretch"
    LEFT = "left"


class Tick(msgspec.Struct, frozen=True):
    """A tick: ``stop`` counts from 0, ``entry_id`` is the last entry the screen had read then."""

    job_id: int
    stop: int
    step: Step
    entry_id: int
    wall_us: int


def ticks_of(engine: Engine, session_id: int) -> list[Tick]:
    """Read a session's ticks in the order they were made. Raises :class:`LogbookError`."""
    c = TICK.c
    wanted = select(c.job_id, c.stop, c.step, c.entry_id, c.wall_us)
    chosen = wanted.where(c.session_id == session_id).order_by(c.entry_id, c.wall_us)
    with telling(engine), engine.connect() as connection:
        return [
            Tick(row.job_id, row.stop, Step(row.step), row.entry_id, row.wall_us)
            for row in connection.execute(chosen)
        ]


def make_tick(engine: Engine, session_id: int, tick: Tick) -> bool:
    """Make a tick; false if it stands already. Raises :class:`LogbookError`."""
    columns = {**msgspec.structs.asdict(tick), "step": str(tick.step), "session_id": session_id}
    with telling(engine):
        try:
            with engine.begin() as connection:
                connection.execute(insert(TICK).values(columns))
        except IntegrityError:
            return False
    return True


def take_back(engine: Engine, session_id: int, job_id: int, stop: int, step: Step) -> bool:
    """Take a tick back, which was made by mistake; false if there is none."""
    c = TICK.c
    gone = delete(TICK).where(c.session_id == session_id, c.job_id == job_id)
    with telling(engine), engine.begin() as connection:
        return connection.execute(gone.where(c.stop == stop, c.step == str(step))).rowcount > 0
