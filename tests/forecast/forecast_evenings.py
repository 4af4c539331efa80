"""Evenings played by the demo's crews on the real core, in virtual time, for forecasts to be tried.

The forecast knows none of this: crews of different skill who learn, good and bad evenings, now
and then trouble, a host who is sometimes talking to somebody else. What it is told are the lines
that the core logs and what the crews tick.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from random import Random
from typing import Any

import simpy

from firmware_py.core.core import Core
from firmware_py.core.entries import BrakeTestEntry, Entry
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.demo.job import (
    AwaitBrakes,
    AwaitRelease,
    Move,
    Pause,
    Say,
    Touch,
    Train,
)
from firmware_py.demo.job import Job as Moves
from firmware_py.forecast.attributing import HERE, Evening, Mark
from firmware_py.forecast.past import Known, crew_of, past_of
from firmware_py.forecast.rounds import rounds_of
from firmware_py.forecast.site import names_of, spurs_of
from firmware_py.forecast.words import JobPlan, Past, Question, StopPlan
from firmware_py.layout.model import ForemanKind, Layout, Spur
from firmware_py.layout.reading import parse_layout
from firmware_py.tape.lines import line_of

TOML = (files("firmware_py.demo") / "layouts" / "wendlebeck.toml").read_text("utf-8")
LAYOUT = parse_layout(TOML, "wendlebeck.toml")
SPURS = {spur.id: spur for spur in LAYOUT.spurs}
HOSTS = frozenset(spur.id for spur in LAYOUT.spurs if spur.foreman is ForemanKind.HOST)
Process = Generator[simpy.Event, Any, None]


@dataclass(frozen=True)
class Played:
    """An evening as it went: what it teaches, and when each of its jobs and the last one ended."""

    jobs: Sequence[JobPlan]
    past: Sequence[Past]
    ends: dict[int, float]
    evening: Evening

    @property
    def whole(self) -> float:
        return max(self.ends.values())


@dataclass
class Group:
    """The people, evening after evening."""

    random: Random
    layout: Layout = LAYOUT
    crews: int = 3
    skill: dict[str, float] = field(default_factory=dict)
    rounds: dict[str, int] = field(default_factory=dict)
    evenings: int = 0

    def jobs(self) -> list[JobPlan]:
        """Tonight's jobs: some of a dozen that come again and again."""
        every = bank()
        return sorted(self.random.sample(every, self.random.randint(4, 7)), key=lambda job: job.id)

    def play(self, jobs: Sequence[JobPlan]) -> Played:
        """Play an evening."""
        self.evenings += 1
        night = _Night(self, jobs)
        night.env.run()
        night.log(night.core.advance(round((night.env.now + 60) * 1e6)))
        found = rounds_of(night.lines)
        known = Known(HOSTS, dict(self.rounds))
        past, evening = past_of(self.evenings, found, jobs, night.marks, known)
        for one in past:
            if one.crew:
                self.rounds[one.crew] = self.rounds.get(one.crew, 0) + 1
        return Played(jobs, past, night.ends, evening)

    def factor(self, crew: str) -> float:
        """How slow a crew is: its own skill, and what it has yet to learn."""
        own = self.skill.setdefault(crew, self.random.lognormvariate(0, 0.2))
        return own * (1 + 0.5 * 0.85 ** self.rounds.get(crew, 0))


def bank() -> list[JobPlan]:
    """A dozen jobs, the same ones each time."""
    random = Random(4)
    names = ["Red", "Blue", "Green", "Grey", "", ""]
    made = []
    for number in range(1, 13):
        stops = tuple(
            StopPlan(random.choice(list(SPURS)), random.randint(1, 4))
            for _ in range(random.randint(2, 4))
        )
        made.append(
            JobPlan(number, f"Job {number}", names[number % 6], random.randint(2, 6), stops)
        )
    return made


def question_of(
    group: Group, jobs: Sequence[JobPlan], past: Sequence[Past], **more: object
) -> Question:
    """What a host would ask before the evening."""
    asked: dict[str, Any] = {"crews": group.crews, "minutes": 90.0} | more
    return Question(
        spurs_of(group.layout),
        names_of(group.layout),
        group.layout.clock_ratio,
        tuple(jobs),
        past=tuple(past),
        rounds_of_crews=dict(group.rounds),
        **asked,
    )


class _Night:
    """One evening: each crew a process, and the core told of every contact as it moves."""

    def __init__(self, group: Group, jobs: Sequence[JobPlan]) -> None:
        self.group = group
        self.random = group.random
        self.env = simpy.Environment()
        self.core = Core(group.layout)
        self.lines: list[tuple[int, dict[str, Any]]] = []
        self.marks: list[Mark] = []
        self.mood = self.random.lognormvariate(0, 0.12)
        self.todo = list(jobs)
        self.busy: set[str] = set()
        self.freed = self.env.event()
        self.host = simpy.Resource(self.env)
        self.taken: dict[str, simpy.Resource] = {}
        self.released: dict[str, simpy.Event] = {}
        self.test_s = 0.0
        self.ends: dict[int, float] = {}
        for _ in range(group.crews):
            self.env.process(self.crew())

    def log(self, entries: Sequence[Entry]) -> None:
        for entry in entries:
            self.lines.append((len(self.lines) + 1, line_of(entry)))
            if isinstance(entry, BrakeTestEntry) and entry.seconds is not None:
                self.test_s = entry.seconds

    def gamma(self, mean: float, shape: float = 4.0) -> float:
        return self.random.gammavariate(shape, mean / shape)

    def crew(self) -> Process:
        yield self.env.timeout(self.gamma(120))
        first = True
        while self.todo:
            job = next(
                (one for one in self.todo if not one.crew or one.crew not in self.busy), None
            )
            if job is None:
                yield self.freed
                continue
            self.todo.remove(job)
            self.busy.add(job.crew)
            slow = self.group.factor(crew_of(job)) * self.mood * self.random.lognormvariate(0, 0.08)
            for index, stop in enumerate(job.stops):
                if index or not first:
                    yield self.env.timeout(self.gamma(60) * slow)
                yield from self.stop(job, index, stop, slow)
            self.ends[job.id] = self.env.now
            first = False
            self.busy.discard(job.crew)
            freed, self.freed = self.freed, self.env.event()
            freed.succeed()

    def stop(self, job: JobPlan, index: int, stop: StopPlan, slow: float) -> Process:
        spur = SPURS[stop.spur]
        ticks_late = self.random.random() < 0.1
        if not ticks_late:
            self.tick(job, index)
        moves = Moves(self.group.layout, spur, self.random, None)
        had = []
        for claim in sorted({spur.switch, *moves.keys}):
            resource = self.taken.setdefault(claim, simpy.Resource(self.env))
            request = resource.request()
            yield request
            had.append((resource, request))
        for move in moves.moves():
            if ticks_late and isinstance(move, AwaitBrakes):
                self.tick(job, index)
            yield from self.move(move, job, stop, spur, slow)
        yield self.env.timeout(0.5)
        for resource, request in had:
            resource.release(request)

    def tick(self, job: JobPlan, index: int) -> None:
        self.marks.append(Mark(job.id, index, HERE, len(self.lines), self.env.now))

    def move(self, move: Move, job: JobPlan, stop: StopPlan, spur: Spur, slow: float) -> Process:
        match move:
            case Pause():
                yield self.env.timeout(self.gamma(2 * move.seconds) * slow)
            case Train():
                yield self.env.timeout(move.seconds)
            case Touch():
                self.log(self.core.reading(self.now_us, move.contact, move.made))
            case Say(command=Command.START_BRAKE_TEST):
                yield self.env.timeout(self.work(stop) * slow)
                self.order(move.command, spur, job.train)
            case Say():
                self.order(move.command, spur, None)
            case AwaitRelease():
                yield self.released[spur.id]
            case AwaitBrakes():
                yield self.env.timeout(self.test_s + 0.1)

    def work(self, stop: StopPlan) -> float:
        trouble = self.gamma(120, 1.0) if self.random.random() < 0.06 else 0.0
        return 30 + sum(self.gamma(45) for _ in range(stop.cars)) + trouble

    @property
    def now_us(self) -> int:
        return max(round(self.env.now * 1e6), self.core.now_us)

    def order(self, command: Command, spur: Spur, cars: int | None) -> None:
        self.log(self.core.order(self.now_us, Order(command, spur.id, None, cars)))
        if command is Command.ASK and spur.foreman is not ForemanKind.NONE:
            self.released[spur.id] = self.env.event()
            self.env.process(self.foreman(spur))

    def foreman(self, spur: Spur) -> Process:
        if spur.foreman is ForemanKind.AUTO:
            yield self.env.timeout(self.random.uniform(*spur.foreman_us) / 1e6)
        else:
            with self.host.request() as turn:
                yield turn
                talking = self.gamma(60) if self.random.random() < 0.1 else 0.0
                yield self.env.timeout(self.gamma(18) + talking)
        self.order(Command.RELEASE, spur, None)
        self.released[spur.id].succeed()


def evenings(seed: int, count: int) -> Iterator[tuple[Group, list[JobPlan], Played]]:
    """Evenings one after another; each is given before it is played into the group's memory."""
    group = Group(Random(seed))
    for _ in range(count):
        jobs = group.jobs()
        yield group, jobs, group.play(jobs)
