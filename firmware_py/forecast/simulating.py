"""Crews that work jobs side by side, sharing spurs and a foreman: one evening after another.

The skeleton is simpy's: a process for each crew, and a resource for each switch, each key that
several of them need, and the host as foreman, who answers one crew at a time. Who comes first is
served first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Generator, Iterator, Mapping, Sequence
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
from firmware_py.layout.model import ForemanKind

HOST = "foreman"
Process = Generator[simpy.Event, Any, None]


@dataclass(slots=True)
class Waits:
    """How crews waited for one claim, summed up over evenings so that memory stays flat.

    ``sum_s`` and ``squares`` are of all crews' waiting in one evening; ``busy`` is the sum of
    the shares of each evening's work in which somebody had it.
    """

    count: int = 0
    sum_s: float = 0.0
    squares: float = 0.0
    busy: float = 0.0

    def take(self, waited_s: float, held_s: float, whole_s: float) -> None:
        """Take an evening."""
        self.count += 1
        self.sum_s += waited_s
        self.squares += waited_s * waited_s
        self.busy += held_s / whole_s if whole_s > 0 else 0.0


@dataclass(frozen=True, slots=True)
class Played:
    """What ``count`` evenings came to.

    ``ends``: (count, jobs), when each job ended, in seconds. ``paced``: (count,), the share of
    the crews' time, from each job's beginning to its end, that went by waiting for foremen's
    answers and brake tests. ``waits`` are by claim: what is only ever wanted by one job is not
    among them, for nobody waits for that.
    """

    ends: Numbers
    paced: Numbers
    waits: Mapping[str, Waits]

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
        self.worked = self.paced = 0.0

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
        wanted = Counter(
            claim
            for job in jobs
            for claim in {claim for stop in job.stops for claim in spurs[stop.spur].claims}
        )
        self.claims = (HOST, *sorted(claim for claim, count in wanted.items() if count > 1))
        self.jobs = jobs
        self.crews = question.crews
        self.names = [crew_of(job) for job in jobs]
        index = {claim: at for at, claim in enumerate(self.claims)}
        self.stops = [
            [
                (
                    tuple(index[one] for one in spurs[stop.spur].claims if one in index),
                    spurs[stop.spur].foreman is ForemanKind.HOST,
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
    paced = np.empty(count)
    waits = {claim: Waits() for claim in plan.claims}
    for at, rows in enumerate(_rows(jobs, drawing, count, tie)):
        evening = _Evening(plan, rows)
        evening.play()
        ends[at] = evening.ends
        paced[at] = evening.paced / evening.worked if evening.worked > 0 else 0.0
        whole_s = max(evening.ends)
        for one, waited_s, held_s in zip(waits.values(), evening.waited, evening.held, strict=True):
            one.take(waited_s, held_s, whole_s)
    return Played(ends, paced, waits)


def _rows(
    jobs: Sequence[JobPlan], drawing: Drawing, count: int, tie: Tie
) -> Iterator[list[list[float]]]:
    for number in range(-(-count // BLOCK)):
        blocks = [drawing.block(job, number, tie).tolist() for job in jobs]
        yield from map(
            list, zip(*[block[: count - number * BLOCK] for block in blocks], strict=True)
        )
