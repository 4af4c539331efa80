"""Plays whole evenings on the demo's layout in no time: the core judges, the keeper writes.

Run as a program it fills a logbook worth looking at: ``python debrief_player.py FILE [EVENINGS]``.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from random import Random

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.core.event import Repeated
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.engine.outset import outset_of
from firmware_py.layout.model import FOREMAN, Chock, Derail, Flag, Gate, Layout, Spur, Switch, Thing
from firmware_py.layout.reading import parse_layout
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.reading import Reader
from firmware_py.logbook.screen.jobs import Car, Job, JobStop, jobs_of, save_jobs
from firmware_py.logbook.screen.ticks import Step, Tick, make_tick
from firmware_py.logbook.writing import Keeper

TOML = (files("firmware_py.demo") / "layouts" / "wendlebeck.toml").read_text("utf-8")
LAYOUT = parse_layout(TOML, "wendlebeck.toml")
US = 1_000_000


@dataclass
class Evening:
    """One session in a logbook, played by hand. Times are seconds of the session."""

    url: str
    began_wall_us: int
    toml: str = TOML
    opened: bool = True
    t: float = 0.0
    raw: dict[str, bool | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.layout: Layout = parse_layout(self.toml, "layout.toml")
        self.things: dict[str, Thing] = {thing.id: thing for thing in self.layout.things}
        self.engine = open_engine(self.url)
        self.keeper = Keeper(self.engine, group_s=0.01)
        self.core = Core(self.layout, notes=True)
        self.raw = dict(self.core.raw())
        self.session = self.keeper.begin_session(
            layout_name=self.layout.name,
            layout_path="layout.toml",
            layout_toml=self.toml,
            simulated=True,
            outset=outset_of(self.core),
            opened=self.opened,
            wall_us=self.began_wall_us,
        )
        with self.keeper.together():
            for name, made in self.raw.items():
                self.keeper.tape(0, name, made)
                self._stand(name)

    def read(self, contact: str, made: bool | None, after: float = 0.0) -> None:
        """A raw reading, ``after`` seconds from now."""
        self.wait(after)
        self.raw[contact] = made
        self.keeper.tape(self.now_us, contact, made)
        self._keep(self.core.reading(self.now_us, contact, made))
        self._stand(contact)

    def order(self, command: Command, spur: str | None = None, **more: int) -> None:
        """A command."""
        order = Order(command, spur, more.get("violation"), more.get("cars"))
        self.keeper.tape(self.now_us, command=command, spur=spur, **more)
        self._keep(self.core.order(self.now_us, order))

    def acknowledge(self, number: int, note: str | None = None) -> None:
        """A violation is acknowledged."""
        self.order(Command.ACKNOWLEDGE, violation=number)
        self.keeper.acknowledged(number, self.now_us, note)

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.t += seconds
        self._keep(self.core.advance(self.now_us))

    def tick(self, job: int, stop: int, step: Step = Step.HERE) -> None:
        """A crew ticks."""
        assert self.keeper.flush()
        last = next(iter(Reader(self.engine).newest_entries(self.session, 1)), None)
        wall_us = self.began_wall_us + self.now_us
        tick = Tick(job, stop, step, last.id if last else 0, wall_us)
        make_tick(self.engine, self.session, tick)

    @property
    def now_us(self) -> int:
        return max(1, round(self.t * US))

    def end(self) -> int:
        """The session is closed; gives its number."""
        self.keeper.end_session(self.now_us)
        self.leave()
        return self.session

    def leave(self) -> None:
        """Let go of the logbook; the session goes on, as far as that can tell."""
        assert self.keeper.flush()
        self.keeper.close()
        self.engine.dispose()

    def _keep(self, entries: object) -> None:
        told: list[Entry] = list(entries)  # type: ignore[call-overload] # a sequence of them
        for entry in told:
            self.keeper.entry(entry, self.began_wall_us + entry.t_us)
        for note in self.core.take_notes():
            if isinstance(note, Repeated):
                self.keeper.repeat(note.number, note.times, note.t_us)
            else:
                self._stand(note.contact)

    def _stand(self, contact: str) -> None:
        settled = self.core.settled()[contact]
        wall_us = self.began_wall_us + self.core.now_us
        self.keeper.standing(contact, self.raw[contact], settled, 0, wall_us)


class Crew:
    """Works spurs as a crew would; ``slips`` is how likely it errs at a step."""

    def __init__(self, evening: Evening, random: Random, slips: float = 0.06) -> None:
        self.evening = evening
        self.random = random
        self.slips = slips

    def work(self, ident: str, cars: int = 3) -> None:
        """One round at a spur, from asking to locking."""
        spur = next(one for one in self.evening.layout.spurs if one.id == ident)
        self._take_keys(spur)
        for step in spur.opening:
            self._step(spur, step, opening=True)
        self._train(spur, cars)
        for step in spur.closing:
            self._step(spur, step, opening=False)
        self._hang_keys(spur)

    def _pause(self, low: float, high: float) -> None:
        self.evening.wait(self.random.uniform(low, high))

    def _step(self, spur: Spur, step: str, *, opening: bool) -> None:
        self._pause(6, 28)
        if self.random.random() < self.slips:
            return  # Forgotten: what comes next is out of order.
        if step == FOREMAN:
            self._foreman(spur, opening=opening)
            return
        for contact, made in _moves(self.evening.things[step], opening=opening):
            self.evening.read(contact, made, self.random.uniform(1.0, 4.0))
        self.evening.wait(0.2)

    def _foreman(self, spur: Spur, *, opening: bool) -> None:
        if not opening:
            self.evening.order(Command.HAND_BACK, spur.id)
            return
        self.evening.order(Command.ASK, spur.id)
        self._pause(10, 70)
        self.evening.order(Command.RELEASE, spur.id)

    def _train(self, spur: Spur, cars: int) -> None:
        evening, switch = self.evening, spur.switch
        self._pause(8, 30)
        evening.read(f"{switch}.detector", True)
        evening.read(f"{spur.id}.detector", True, self.random.uniform(6.0, 18.0))
        evening.read(f"{switch}.detector", False, self.random.uniform(2, 6))
        evening.wait(4)
        if self.random.random() < 0.6:
            evening.order(Command.START_BRAKE_TEST, spur.id, cars=cars)
            evening.wait((cars * 0.3065 * 60 + 50) / evening.layout.clock_ratio + 1)
        self._pause(60, 260)
        evening.read(f"{switch}.detector", True)
        evening.read(f"{spur.id}.detector", False, 6)
        evening.read(f"{switch}.detector", False, 7)
        evening.wait(4)

    def _take_keys(self, spur: Spur) -> None:
        self._pause(5, 25)
        for hook in _hooks(self.evening, spur):
            self.evening.read(hook, False, 0.5)

    def _hang_keys(self, spur: Spur) -> None:
        self._pause(5, 40)
        for hook in _hooks(self.evening, spur):
            if self.random.random() > self.slips:
                self.evening.read(hook, True, 0.5)


def _hooks(evening: Evening, spur: Spur) -> Iterator[str]:
    owners = [evening.things[spur.switch], *(g for g in evening.layout.gates if g.spur == spur.id)]
    for owner in owners:
        key = getattr(owner, "key", None)
        if key:
            yield f"{key}.hook"


def _moves(thing: Thing, *, opening: bool) -> Iterator[tuple[str, bool]]:
    """What a crew does at a thing, contact by contact."""
    match thing:
        case Switch():
            moves = [(f"{thing.id}.normal", False), (f"{thing.id}.reverse", True)]
            if thing.hasp is not None:
                moves.insert(0, (f"{thing.id}.hasp", False))
            yield from moves if opening else [(name, not made) for name, made in reversed(moves)]
        case Flag() | Chock():
            yield f"{thing.id}.rack", opening
        case Gate():
            yield from _both(f"{thing.id}.hasp", f"{thing.id}.shut", opening=opening)
        case Derail():
            yield from _both(f"{thing.id}.hasp", f"{thing.id}.on", opening=opening)
        case _:
            raise AssertionError(thing)


def _both(hasp: str, place: str, *, opening: bool) -> Iterator[tuple[str, bool]]:
    if opening:
        yield from ((hasp, False), (place, False))
    else:
        yield from ((place, True), (hasp, True))


JOBS = (
    Job(
        "Morning turn",
        "Amber crew",
        6,
        "caboose",
        ("upper-key",),
        (
            JobStop("creamery", (Car("milk car 12", "by the ramp"),), (Car("milk car 15"),)),
            JobStop("sawmill", (Car("flat car 31"),), (Car("flat car 33"), Car("flat car 34"))),
        ),
    ),
    Job(
        "Foundry turn",
        "Slate crew",
        4,
        "marker",
        ("lower-key",),
        (
            JobStop("foundry", (Car("gondola 7"),), (Car("gondola 9"),)),
            JobStop("brickyard", (), (Car("box car 21"), Car("box car 22"))),
            JobStop("oil-dock", (Car("tank car 3"),), (Car("tank car 5"),)),
        ),
    ),
)


def keep_jobs(url: str) -> list[Job]:
    """Keep the evening's jobs in a logbook."""
    engine = open_engine(url)
    save_jobs(engine, LAYOUT.name, JOBS, 1)
    kept = jobs_of(engine, LAYOUT.name)
    engine.dispose()
    return kept


def evening_of_jobs(
    url: str, began_wall_us: int, seed: int, *, slips: float = 0.06, ends: bool = True
) -> int:
    """An evening in which two crews work all their stops, one after the other."""
    random = Random(seed)
    engine = open_engine(url)
    jobs = jobs_of(engine, LAYOUT.name)
    engine.dispose()
    evening = Evening(url, began_wall_us)
    crew = Crew(evening, random, slips)
    evening.wait(random.uniform(60, 300))
    for stop in range(3):
        for job in jobs:
            if stop < len(job.stops):
                evening.tick(job.id, stop)
                crew.work(job.stops[stop].spur, job.cars)
                evening.tick(job.id, stop, Step.LEFT)
                evening.wait(random.uniform(40, 400))
    if seed % 2:
        _trouble(evening)
    for number in range(1, 60):
        if random.random() < 0.7 and number <= _violations(evening):
            evening.acknowledge(number, random.choice([None, "=Told at the coffee table", "Fine."]))
    evening.wait(120)
    if ends:
        return evening.end()
    evening.leave()
    return evening.session


def _violations(evening: Evening) -> int:
    assert evening.keeper.flush()
    return len(Reader(evening.engine).violations(evening.session))


def _trouble(evening: Evening) -> None:
    for place in range(60):
        evening.read("brickyard-switch.normal", place % 2 == 0, 0.01)
    evening.read("brickyard-switch.normal", True, 1.0)
    evening.read("oil-dock-derail.on", None, 20)
    evening.read("oil-dock-derail.on", True, 90)
    evening.order(Command.RELEASE, "creamery")
    evening.wait(10)


def main() -> None:
    url = sys.argv[1]
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 7
    keep_jobs(url)
    now_us = time.time_ns() // 1_000
    for index in range(count):
        began_us = now_us - (count - index) * 7 * 24 * 3600 * US
        evening_of_jobs(url, began_us, index + 1, slips=0.10 - 0.01 * index)


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    main()
