"""Crews that work jobs side by side, sharing spurs and a foreman: one evening after another.

The skeleton is simpy's: a process for each crew, and a resource for each switch, each key that
several of them need, and the host as foreman, who answers one crew at a time. Who comes first is
served first.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import simpy

from firmware_py.forecast.drawing import (
    AFTER,
    ANSWERED,
    BEFORE,
    BLOCK,
    PARTS,
    TESTED,
    WAY,
    Drawing,
    Tie,
)
from firmware_py.forecast.past import crew_of
from firmware_py.forecast.pert import Numbers
from firmware_py.forecast.words import JobPlan, Question

HOST = "foreman"
Process = Generator[simpy.Event, Any, None]


@dataclass(frozen=True, slots=True)
class Played:
    """What ``count`` evenings came to, in arrays of a fixed size.

    ``ends``: (count, jobs), when each job ended, in seconds. ``worked``: (count,), the crews'
    time from each job's beginning to its end, all together. ``paced``: (count,), of that, waiting
    for foremen's answers and brake tests; ``tested`` the brake tests alone. ``waited``: (count,
    claims), waiting for each of ``claims``; ``held``: the same, how long each was had by a crew.
    """

    ends: Numbers
    worked: Numbers
    paced: Numbers
    tested: Numbers
    waited: Numbers
    held: Numbers
    claims: tuple[str, ...]

    @property
    def whole(self) -> Numbers:
        """When the last job ended, of shape (count,)."""
        return np.asarray(self.ends.max(axis=1), dtype=np.float64)


class _Evening:
    """One evening; its crews are processes."""

    def __init__(self, plan: _Plan, rows: list[list[float]]) -> None:
        self._plan = plan
        self._rows = rows
        self._env = simpy.Environment()
        self._resources = [simpy.Resource(self._env) for _ in plan.claims]
        self._todo = list(range(len(plan.jobs)))
        self._at_work: set[str] = set()
        self._freed = self._env.event()
        self.ends = [0.0] * len(plan.jobs)
        self.waited = [0.0] * len(plan.claims)
        self.held = [0.0] * len(plan.claims)
        self.worked = self.paced = self.tested = 0.0

    def play(self) -> None:
        for _ in range(self._plan.crews):
            self._env.process(self._crew())
        self._env.run()

    def _crew(self) -> Process:
        first = True
        while self._todo:
            job = self._choose()
            if job is None:
                yield self._freed
                continue
            name = self._plan.names[job]
            self._at_work.add(name)
            yield from self._job(job, first=first)
            first = False
            self._at_work.discard(name)
            freed, self._freed = self._freed, self._env.event()
            freed.succeed()

    def _choose(self) -> int | None:
        """The first job of the list whose named crew is not at work on another one."""
        for place, job in enumerate(self._todo):
            name = self._plan.names[job]
            if not name or name not in self._at_work:
                return self._todo.pop(place)
        return None

    def _job(self, job: int, *, first: bool) -> Process:
        env, row = self._env, self._rows[job]
        began = env.now
        for index, (claims, is_host) in enumerate(self._plan.stops[job]):
            at = 1 + PARTS * index
            is_start = first and not index
            yield env.timeout(row[0] if is_start else row[at + WAY])
            if is_start:
                began = env.now  # Before its first stop a crew is not at work yet.
            yield from self._stop(row[at : at + PARTS], claims, is_host=is_host)
        self.ends[job] = env.now
        self.worked += env.now - began

    def _stop(self, parts: list[float], claims: Sequence[int], *, is_host: bool) -> Process:
        env = self._env
        had = []
        for claim in claims:  # Always in the same order, so that no two crews block each other.
            asked = env.now
            request = self._resources[claim].request()
            yield request
            self.waited[claim] += env.now - asked
            had.append((claim, request, env.now))
        if parts[ANSWERED] or is_host:
            yield env.timeout(parts[BEFORE])
            yield from self._answer(parts[ANSWERED], is_host=is_host)
            yield env.timeout(parts[AFTER])
        else:
            yield env.timeout(parts[BEFORE] + parts[AFTER])
        self.paced += parts[TESTED]
        self.tested += parts[TESTED]
        for claim, request, since in had:
            self._resources[claim].release(request)
            self.held[claim] += env.now - since

    def _answer(self, seconds: float, *, is_host: bool) -> Process:
        env, asked = self._env, self._env.now
        if is_host:
            with self._resources[0].request() as turn:
                yield turn
                self.waited[0] += env.now - asked
                yield env.timeout(seconds)
            self.held[0] += seconds
        else:
            yield env.timeout(seconds)
        self.paced += env.now - asked


class _Plan:
    """The part of a question that is the same on each evening."""

    def __init__(self, question: Question, jobs: Sequence[JobPlan]) -> None:
        spurs = {spur.id: spur for spur in question.spurs}
        claims = sorted({c for job in jobs for stop in job.stops for c in spurs[stop.spur].claims})
        self.claims = (HOST, *claims)
        self.jobs = jobs
        self.crews = question.crews
        self.names = [crew_of(job) for job in jobs]
        index = {claim: at for at, claim in enumerate(self.claims)}
        self.stops = [
            [
                (
                    tuple(index[claim] for claim in spurs[stop.spur].claims),
                    spurs[stop.spur].foreman == "host",
                )
                for stop in job.stops
            ]
            for job in jobs
        ]


def play(
    question: Question,
    jobs: Sequence[JobPlan],
    drawing: Drawing,
    count: int,
    tie: Tie = Tie.LEARNT,
) -> Played:
    """Play ``count`` evenings with ``jobs``, of which there is at least one."""
    plan = _Plan(question, jobs)
    ends = np.empty((count, len(jobs)))
    sums = np.empty((count, 3))
    waited, held = np.empty((count, len(plan.claims))), np.empty((count, len(plan.claims)))
    for at, rows in enumerate(_rows(jobs, drawing, count, tie)):
        evening = _Evening(plan, rows)
        evening.play()
        ends[at] = evening.ends
        sums[at] = evening.worked, evening.paced, evening.tested
        waited[at], held[at] = evening.waited, evening.held
    return Played(ends, sums[:, 0], sums[:, 1], sums[:, 2], waited, held, plan.claims)


def _rows(
    jobs: Sequence[JobPlan], drawing: Drawing, count: int, tie: Tie
) -> Iterator[list[list[float]]]:
    for number in range(-(-count // BLOCK)):
        blocks = [drawing.block(job, number, tie).tolist() for job in jobs]
        yield from map(
            list, zip(*[block[: count - number * BLOCK] for block in blocks], strict=True)
        )
