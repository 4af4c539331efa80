"""Which job and crew is at a spur, as the board and the desk name them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.ticks import Tick
from web.crew.progress import Progress, StopState, progress_of
from web.live.board import Work

_BEHIND = frozenset({StopState.DONE, StopState.LEFT})


class AtWork(NamedTuple):
    """How far a job has come. ``here`` is the spur where its crew is, ``None`` where it is on none.

    ``guessed`` says that no crew said so; ``begun`` that it has come to a stop at least once;
    ``ahead`` are the spurs of the stops that are not behind it, in order.
    """

    job: Job
    here: str | None
    guessed: bool
    begun: bool
    ahead: tuple[str, ...]

    @property
    def under_way(self) -> bool:
        """Whether the crew has begun and is not through."""
        return self.begun and bool(self.ahead)

    @property
    def called(self) -> str:
        """The job and its crew, as people call them."""
        return called(self.job.name, self.job.crew)


def called(name: str, crew: str) -> str:
    """A job's name with its crew's behind it, where that is known."""
    return f"{name} ({crew})" if crew else name


def at_work(
    jobs: Sequence[Job], ticks: Sequence[Tick], work: Mapping[str, Work]
) -> tuple[AtWork, ...]:
    """How far each job has come that was not taken away, in the jobs' order."""
    progress = progress_of(jobs, ticks, work)
    ticked = {tick.job_id for tick in ticks}
    return tuple(
        _at_work(job, progress[job.id], ticked=job.id in ticked) for job in jobs if not job.dropped
    )


def _at_work(job: Job, progress: Progress, *, ticked: bool) -> AtWork:
    here = next((stop for stop in progress.stops if stop.here), None)
    ahead = tuple(stop.spur for stop in progress.stops if stop.state not in _BEHIND)
    begun = ticked or here is not None or len(ahead) < len(job.stops)
    return AtWork(job, here.spur if here else None, bool(here and here.guessed), begun, ahead)


def crews_at(spur: str, working: Iterable[AtWork]) -> list[dict[str, Any]]:
    """The crews to name at a spur: those who are there, else those who have it planned.

    Keys: ``job`` (its id), ``name``, ``crew``, ``here`` and ``says`` (here, likely here, or
    planned).
    """
    working = tuple(working)
    here = [one for one in working if one.here == spur]
    planned = [one for one in working if spur in one.ahead]
    return [
        {
            "job": one.job.id,
            "name": one.job.name,
            "crew": one.job.crew,
            "here": bool(here),
            "says": _says(one) if here else "planned",
        }
        for one in here or planned
    ]


def _says(one: AtWork) -> str:
    return "likely here" if one.guessed else "here"
