"""What is done with a layout's whole list of jobs: bringing one back, and taking a file in."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from sqlalchemy import Engine, update

from firmware_py.logbook.errors import telling
from firmware_py.logbook.screen.job_checks import MOST_JOBS
from firmware_py.logbook.screen.jobs import Job, jobs_of, save_in
from firmware_py.logbook.tables import JOB


class TooManyJobsError(ValueError):
    """A list would become longer than it may; the text says how long it may be."""


def bring_back(engine: Engine, job_id: int, wall_us: int) -> bool:
    """Put a job that was taken away back into its list; false where there is none.

    Raises :class:`LogbookError`, as everything here does, if the database can't be used.
    """
    gone = update(JOB).where(JOB.c.id == job_id, JOB.c.dropped_wall_us.is_not(None))
    back = gone.values(dropped_wall_us=None, changed_wall_us=wall_us)
    with telling(engine), engine.begin() as connection:
        return connection.execute(back).rowcount > 0


def take_in(
    engine: Engine, layout_name: str, jobs: Sequence[Job], wall_us: int, *, replace: bool = False
) -> list[int]:
    """Add jobs to the end of a layout's list, all or none of them; returns their ids.

    With ``replace`` they become the list: one that was there under the same name keeps its id,
    and with it its crew's link; the others that were there are taken away. Raises
    :class:`TooManyJobsError` where the list would grow too long.
    """
    present = jobs_of(engine, layout_name)
    check_room(len(jobs) if replace else len(present) + len(jobs))
    chosen = _with_ids(jobs, present) if replace else [_as_new(job) for job in jobs]
    kept = {job.id for job in chosen}
    away = [job.id for job in present if replace and job.id not in kept]
    with telling(engine), engine.begin() as connection:
        ids = [save_in(connection, engine, layout_name, job, wall_us) for job in chosen]
        for place, job_id in enumerate(ids if replace else ()):
            connection.execute(update(JOB).where(JOB.c.id == job_id).values(place=place))
        for job_id in away:
            connection.execute(
                update(JOB).where(JOB.c.id == job_id).values(dropped_wall_us=wall_us)
            )
    return ids


def check_room(count: int) -> None:
    """Raise :class:`TooManyJobsError` if a layout can't have so many jobs."""
    if count > MOST_JOBS:
        raise TooManyJobsError(
            f"that would be {count} jobs; a layout can have {MOST_JOBS}, so drop some first"
        )


def _with_ids(jobs: Sequence[Job], present: Sequence[Job]) -> list[Job]:
    free: dict[str, list[int]] = {}
    for job in present:
        free.setdefault(job.name, []).append(job.id)
    return [
        msgspec.structs.replace(job, id=free[job.name].pop(0)) if free.get(job.name) else job
        for job in map(_as_new, jobs)
    ]


def _as_new(job: Job) -> Job:
    return msgspec.structs.replace(job, id=0, dropped=False)
