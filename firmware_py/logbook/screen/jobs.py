"""Jobs as the host prepares them: a crew, its stops in order, and what it does at each."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any, Literal

import msgspec
from sqlalchemy import Connection, Engine, Row, func, insert, select, update

from firmware_py.logbook.errors import LogbookError, place, telling
from firmware_py.logbook.tables import JOB

Rear = Literal["", "marker", "caboose"]
"""What protects the rear end of a job's train; empty where nothing is asked for."""


class Car(msgspec.Struct, frozen=True):
    """A car and its place, both in the host's own words; the place may be empty."""

    car: str
    place: str = ""


class JobStop(msgspec.Struct, frozen=True):
    """One stop: the spur's id, the cars to pull, those to spot, and the industry's note."""

    spur: str
    pull: tuple[Car, ...] = ()
    spot: tuple[Car, ...] = ()
    note: str = ""


class Job(msgspec.Struct, frozen=True):
    """A job. ``cars`` is how many its train has; ``keys`` are the ids of those to be issued.

    ``id`` is 0 for one that was not saved yet. ``dropped`` says that the host took it away.
    """

    name: str
    crew: str = ""
    cars: int = 0
    rear: Rear = ""
    keys: tuple[str, ...] = ()
    stops: tuple[JobStop, ...] = ()
    id: int = 0
    dropped: bool = False


def jobs_of(engine: Engine, layout_name: str, *, dropped: bool = False) -> list[Job]:
    """Read a layout's jobs in their order; with ``dropped``, those taken away as well.

    Raises :class:`LogbookError`, as everything here does, if the database can't be used.
    """
    wanted = select(JOB).where(JOB.c.layout_name == layout_name)
    if not dropped:
        wanted = wanted.where(JOB.c.dropped_wall_us.is_(None))
    with telling(engine), engine.connect() as connection:
        rows = connection.execute(wanted.order_by(JOB.c.place, JOB.c.id))
        return [_job(row) for row in rows]


def save_job(engine: Engine, layout_name: str, job: Job, wall_us: int) -> int:
    """Save a job: a new one at the end of the list where its ``id`` is 0. Returns the id."""
    with telling(engine), engine.begin() as connection:
        return save_in(connection, engine, layout_name, job, wall_us)


def save_jobs(engine: Engine, layout_name: str, jobs: Iterable[Job], wall_us: int) -> list[int]:
    """Save several, all or none of them; returns their ids."""
    with telling(engine), engine.begin() as connection:
        return [save_in(connection, engine, layout_name, job, wall_us) for job in jobs]


def drop_job(engine: Engine, job_id: int, wall_us: int) -> bool:
    """Take a job away; false where there is none. Sessions that worked it still know it."""
    gone = update(JOB).where(JOB.c.id == job_id, JOB.c.dropped_wall_us.is_(None))
    with telling(engine), engine.begin() as connection:
        return connection.execute(gone.values(dropped_wall_us=wall_us)).rowcount > 0


def order_jobs(engine: Engine, layout_name: str, ids: Iterable[int]) -> None:
    """Put a layout's jobs into the order of ``ids``; others keep their places."""
    with telling(engine), engine.begin() as connection:
        for at, job_id in enumerate(ids):
            chosen = update(JOB).where(JOB.c.id == job_id, JOB.c.layout_name == layout_name)
            connection.execute(chosen.values(place=at))


def save_in(
    connection: Connection, engine: Engine, layout_name: str, job: Job, wall_us: int
) -> int:
    """Save a job as :func:`save_job` does, within a transaction that has more to do."""
    columns: dict[str, Any] = {
        "name": job.name,
        "crew": job.crew,
        "cars": job.cars,
        "rear": job.rear,
        "keys": json.dumps(job.keys),
        "stops": msgspec.json.encode(job.stops).decode(),
        "changed_wall_us": wall_us,
    }
    if not job.id:
        last = select(func.max(JOB.c.place)).where(JOB.c.layout_name == layout_name)
        at = connection.scalar(last)
        columns |= {"layout_name": layout_name, "place": 0 if at is None else at + 1}
        key = connection.execute(insert(JOB).values(columns)).inserted_primary_key
        return int(key[0]) if key else 0
    chosen = update(JOB).where(JOB.c.id == job.id, JOB.c.layout_name == layout_name)
    if not connection.execute(chosen.values(columns)).rowcount:
        raise LogbookError(f"{place(engine)}: there is no job {job.id} on {layout_name}")
    return job.id


def _job(row: Row[Any]) -> Job:
    return Job(
        row.name,
        row.crew,
        row.cars,
        row.rear,
        tuple(json.loads(row.keys)),
        msgspec.json.decode(row.stops, type=tuple[JobStop, ...]),
        row.id,
        row.dropped_wall_us is not None,
    )
