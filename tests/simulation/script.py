"""A script from a seed: a layout, crews at work on it, and everything that goes wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from importlib.resources import files
from random import Random
from typing import Any

from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.core.pace import brake_test_seconds
from firmware_py.demo.job import (
    AwaitBrakes,
    AwaitRelease,
    Job,
    Pause,
    Slip,
    Touch,
    Train,
)
from firmware_py.demo.job import Move as JobMove
from firmware_py.demo.job import Say as JobSay
from firmware_py.layout.model import ForemanKind, Layout, Spur
from firmware_py.layout.reading import parse_layout
from tests.oracle.layouts_at_random import Builder, layout_as_toml

from .steps import (
    Act,
    Chatter,
    Disk,
    Flood,
    Hand,
    Kill,
    Lose,
    Move,
    Raise,
    Restart,
    Say,
    Script,
    Stall,
    Step,
    StepWall,
    Stick,
    Trouble,
)

SECOND = 1_000_000
YEARS_US = 10 * 365 * 86_400 * SECOND
ROOMS = (15, 40, 400, 200_000)
"""What may wait for the logbook, beyond a line for each contact."""
MOST_TESTED_S = 30.0


class RichBuilder(Builder):
    """Builds layouts on which hardly anything is missing."""

    def chance(self, share: float) -> bool:
        return super().chance(max(share, 0.85))


def script_of(seed: int) -> Script:
    """The script of a seed, always the same one."""
    random = Random(seed)
    toml = _layout(random)
    layout = parsed(toml)
    writer = _Writer(layout, random)
    writer.write()
    room = len(layout.contacts) + random.choice(ROOMS)
    steps = sorted(writer.steps, key=lambda step: step.at_us)
    return Script(seed, toml, room, tuple(steps))


@cache
def demo_layout() -> str:
    """The layout file of the demo."""
    return (files("firmware_py.demo") / "layouts" / "wendlebeck.toml").read_text("utf-8")


def parsed(toml: str) -> Layout:
    """The layout that a script is played on."""
    return parse_layout(toml, "layout.toml")


def _layout(random: Random) -> str:
    kind = random.randrange(20)
    if kind == 0:
        return demo_layout()
    builder = RichBuilder if kind < 8 else Builder
    table: dict[str, Any] = builder(random).build()
    return layout_as_toml(table)


class _Writer:
    def __init__(self, layout: Layout, random: Random) -> None:
        self._layout = layout
        self._random = random
        self._contacts = sorted(contact.name for contact in layout.contacts)
        self.steps: list[Step] = []
        self._end_us = 10 * SECOND

    def write(self) -> None:
        """Put down all that happens."""
        random = self._random
        if self._layout.spurs:
            for _ in range(random.choice((1, 1, 2))):
                self._crew(round(random.uniform(0, 15) * SECOND))
        for _ in range(random.choice((0, 0, 3, 8))):
            self._fumble()
        for number in range(1, random.choice((1, 3, 6))):
            self._acknowledge(number)
        for _ in range(random.choice((0, 1, 1, 2, 3, 5))):
            random.choice(self._mishaps())()

    def _acknowledge(self, number: int) -> None:
        """The host acknowledges a violation, sometimes just before everything goes dark."""
        random = self._random
        at_us = random.randrange(self._end_us // 2, self._end_us)
        order = Order(Command.ACKNOWLEDGE, violation=number)
        self._put(at_us, Say(order, random.random() < 0.3))
        if random.random() < 0.15:
            self._put(at_us, Kill(0, SECOND, at_commit=True))

    def _put(self, at_us: int, act: Act) -> None:
        self.steps.append(Step(at_us, act))
        self._end_us = max(self._end_us, at_us)

    def _some_time(self) -> int:
        return self._random.randrange(self._end_us)

    def _some_contacts(self, most: int) -> tuple[str, ...]:
        count = min(self._random.randint(1, most), len(self._contacts))
        return tuple(sorted(self._random.sample(self._contacts, count)))

    # Crews.

    def _crew(self, at_us: int) -> None:
        random = self._random
        careless = random.random() < 0.5
        for _ in range(random.choice((1, 1, 2))):
            spur = random.choice(self._layout.spurs)
            slip = random.choice(list(Slip)) if careless else None
            for move in Job(self._layout, spur, random, slip).moves():
                at_us = self._play(at_us, spur, move)
            if random.random() < 0.15:
                at_us += random.choice((35, 125, 650)) * SECOND
            at_us += round(random.uniform(1, 8) * SECOND)

    def _play(self, at_us: int, spur: Spur, move: JobMove) -> int:
        """Put down a move; answers when it is over."""
        random = self._random
        match move:
            case Pause() | Train():
                return at_us + round(move.seconds * SECOND)
            case Touch():
                self._put(at_us, self._touch(move))
            case JobSay():
                order = Order(move.command, spur.id, None, move.cars)
                self._put(at_us, Say(order, random.random() < 0.3))
                self._cars = move.cars or 1
            case AwaitRelease() if spur.foreman is ForemanKind.AUTO:
                return at_us + spur.foreman_us[1] + SECOND
            case AwaitRelease():
                if random.random() < 0.2:
                    self._put(at_us + SECOND, Say(Order(Command.HOLD, spur.id)))
                at_us += round(random.uniform(2, 8) * SECOND)
                self._put(at_us, Say(Order(Command.RELEASE, spur.id), random.random() < 0.5))
                return at_us + SECOND
            case AwaitBrakes():
                lasts_s = brake_test_seconds(self._cars, self._layout.clock_ratio) + 1
                return at_us + round(min(lasts_s, MOST_TESTED_S) * SECOND)
        return at_us

    def _touch(self, move: Touch) -> Move:
        random = self._random
        bounces = tuple(random.randint(100, 3_000) for _ in range(random.choice((0, 0, 1, 3))))
        late_us = random.choice((0, 0, 0, 700, 30_000, 2_500_000))
        return Move(move.contact, move.made, bounces, late_us)

    # What nobody planned.

    def _fumble(self) -> None:
        """Somebody moves what he should not, or asks for what makes no sense."""
        random = self._random
        at_us, contact = self._some_time(), random.choice(self._contacts)
        if random.random() < 0.7 or not self._layout.spurs:
            made = random.random() < 0.5
            self._put(at_us, Move(contact, made))
            if random.random() < 0.7:
                self._put(at_us + random.randint(1, 40) * SECOND // 4, Move(contact, not made))
            return
        spur = random.choice(self._layout.spurs).id
        command = random.choice([c for c in Command if c is not Command.ACKNOWLEDGE])
        cars = random.randint(1, 9) if command is Command.START_BRAKE_TEST else None
        self._put(at_us, Say(Order(command, spur, None, cars), random.random() < 0.5))

    def _mishaps(self) -> list[Callable[[], None]]:
        return [
            self._lose,
            self._stick,
            self._chatter,
            self._flood,
            self._disk,
            self._disk,
            self._stall,
            *([self._kill] * 5),
            self._restart,
            self._step_wall,
            self._raise,
            self._hand,
            self._full_up,
        ]

    def _lose(self) -> None:
        contacts = self._some_contacts(5)
        if self._random.random() < 0.2:
            contacts = tuple(self._contacts)
        self._put(self._some_time(), Lose(contacts, self._a_while()))

    def _stick(self) -> None:
        self._put(self._some_time(), Stick(self._random.choice(self._contacts), self._a_while()))

    def _chatter(self) -> None:
        random = self._random
        edges, apart_us = random.randint(20, 60), random.choice((1_000, 10_000, 48_000))
        self._put(self._some_time(), Chatter(random.choice(self._contacts), edges, apart_us))

    def _flood(self) -> None:
        if self._random.random() < 0.4:  # A flood costs as much time as a whole session does.
            self._put(self._some_time(), Flood(self._some_contacts(3)))

    def _disk(self) -> None:
        trouble = self._random.choice(list(Trouble))
        self._put(self._some_time(), Disk(trouble, self._a_while()))

    def _full_up(self) -> None:
        """The database is in trouble, and contacts chatter meanwhile; perhaps a kill after it."""
        random = self._random
        at_us = self._some_time()
        lasts_us = random.randint(5, 20) * SECOND
        self._put(at_us, Disk(random.choice(list(Trouble)), lasts_us))
        for contact in self._some_contacts(3):
            soon_us = at_us + random.randrange(4 * SECOND)
            self._put(soon_us, Chatter(contact, random.randint(20, 60), 10_000))
        if random.random() < 0.4:
            later_us = at_us + lasts_us + random.randrange(3 * SECOND)
            self._put(later_us, self._a_kill())

    def _stall(self) -> None:
        random = self._random
        for_us = random.choice((20_000, 300_000, 3 * SECOND))
        self._put(self._some_time(), Stall(random.random() < 0.5, for_us))

    def _kill(self) -> None:
        """A kill, mostly in the midst of what something has set off."""
        random = self._random
        if random.random() < 0.7 and self.steps:
            step = random.choice(self.steps)
            soon_us = random.choice((0, 0, 20_000, 60_000, 2_020_000))
            after = random.randint(1, random.choice((6, 25, 80)))
            back_after_us = random.choice((0, SECOND, 20 * SECOND))
            kill = Kill(after, back_after_us, at_commit=random.random() < 0.5)
            self._put(step.at_us + soon_us, kill)
        else:
            self._put(self._some_time(), self._a_kill())

    def _a_kill(self) -> Kill:
        random = self._random
        after = random.choice((0, random.randint(1, 8), random.randint(1, 60)))
        return Kill(after, random.choice((0, SECOND, 20 * SECOND)))

    def _restart(self) -> None:
        self._put(self._some_time(), Restart(self._random.choice((0, SECOND, 20 * SECOND))))

    def _step_wall(self) -> None:
        by_us = self._random.choice((-YEARS_US, YEARS_US, -3_600 * SECOND, 3_600 * SECOND))
        self._put(self._some_time(), StepWall(by_us))

    def _raise(self) -> None:
        self._put(self._some_time(), Raise(self._random.choice((1, 3))))

    def _hand(self) -> None:
        made = self._random.choice((True, False, None))
        self._put(self._some_time(), Hand(self._random.choice(self._contacts), made))

    def _a_while(self) -> int:
        return self._random.choice((100_000, SECOND, 5 * SECOND, 30 * SECOND))


def shown(script: Script) -> Iterator[str]:
    """A script in lines, for whoever has to find out why it fails."""
    yield script.toml
    yield f"seed {script.seed}, room {script.room}"
    for step in script.steps:
        yield f"{step.at_us / SECOND:12.6f}  {step.act}"
