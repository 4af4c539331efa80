"""What is kept of an earlier session to compare with: a few numbers and its times. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from firmware_py.logbook.screen.jobs import Job
from firmware_py.logbook.screen.ticks import Tick
from web.crew.progress import StopState, progress_of
from web.debrief.evening import Evening, StepKey
from web.debrief.pace import step_totals
from web.debrief.waiting import Waiting, Worked, all_worked, overall, waiting_of
from web.live.board import Round, Work


@dataclass(frozen=True, slots=True)
class Digest:
    """One session in short. ``cars`` were at the stops that were done; times in microseconds."""

    session: int
    began_wall_us: int
    length_us: int
    violations: int
    waiting: Waiting
    rounds: int
    cars: int
    steps: Mapping[StepKey, Sequence[int]]

    @property
    def violations_per_hour(self) -> float | None:
        """``None`` for a session of less than a minute, of which it would say nothing."""
        hours = self.length_us / 3_600_000_000
        return self.violations / hours if hours >= 1 / 60 else None


@dataclass(frozen=True, slots=True)
class Crews:
    """Which job each round belongs to, and the cars of the stops that are done, by job."""

    worked: Sequence[Worked]
    cars: Mapping[int, int]
    done: Mapping[int, int]


def crews_of(evening: Evening, jobs: Sequence[Job], ticks: Sequence[Tick]) -> Crews:
    """Tell rounds and cars by job, as the crews' own pages do."""
    work = _known(evening.work, jobs)
    progress = progress_of(jobs, ticks, work)
    rounds: dict[int, dict[int, tuple[Round, ...]]] = {}
    cars: dict[int, int] = {}
    done: dict[int, int] = {}
    for job in jobs:
        stops = progress[job.id].stops
        rounds[job.id] = {index: stop.rounds for index, stop in enumerate(stops) if stop.rounds}
        behind = [
            job.stops[index] for index, one in enumerate(stops) if one.state is StopState.DONE
        ]
        cars[job.id] = sum(len(stop.pull) + len(stop.spot) for stop in behind)
        done[job.id] = len(behind)
    return Crews(all_worked(evening, rounds), cars, done)


def _known(work: Mapping[str, Work], jobs: Sequence[Job]) -> dict[str, Work]:
    """A job may name a spur at which nothing ever happened, or that the layout no longer has."""
    spurs = {stop.spur for job in jobs for stop in job.stops}
    return {spur: Work() for spur in spurs} | dict(work)


def digest_of(
    session: tuple[int, int],
    evening: Evening,
    violations: int,
    crews: Crews,
) -> Digest:
    """A session in short; ``session`` is its number and when it began by the wall clock."""
    return Digest(
        *session,
        evening.length_us,
        violations,
        overall(waiting_of(crews.worked, evening)),
        evening.rounds,
        sum(crews.cars.values()),
        step_totals(evening),
    )
