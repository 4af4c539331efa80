"""A random walk of the real core: it must never leave the states that the proof has visited."""

from __future__ import annotations

import time
from collections.abc import Iterator
from random import Random

from firmware_py.core.core import Core
from firmware_py.core.entries import Violation
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.layout.model import Layout
from firmware_py.proof.explore import Explored, explore
from firmware_py.proof.outset import read_off
from tests.proof.proof_layouts import TEXTS, layout_of

GAPS_US = (0, 1, 900, 19_999, 20_000, 25_000, 300_000, 2_000_000, 6_000_000, 150_000_000)
"""From less than a settle time to longer than most deadlines."""


class Walker:
    """Hands, trains, foremen and faults at random, on a core that nobody watches."""

    def __init__(self, layout: Layout, explored: Explored, seed: int) -> None:
        self.random = Random(seed)
        self.explored = explored
        self.layout = explored.watch.layout
        self.names = [contact.name for contact in self.layout.contacts]
        self.spurs = [spur.id for spur in self.layout.spurs]
        self.steps = 0
        self.begin()

    def begin(self) -> None:
        """Begin a session, with contacts standing in any way."""
        standing = {n: self.random.choice((True, False, None)) for n in self.names}
        self.core = Core(self.layout, {} if self.random.random() < 0.5 else standing)
        self.t_us = 1
        self.open: list[int] = []

    def step(self) -> None:
        """One event at random."""
        self.steps += 1
        self.t_us += self.random.choice(GAPS_US)
        what = self.random.random()
        if what < 0.72:
            name, made = self.random.choice(self.names), self.random.random() < 0.5
            entries = self.core.reading(self.t_us, name, made)
        elif what < 0.76:
            entries = self.core.reading(self.t_us, self.random.choice(self.names), None)
        elif what < 0.78:
            entries = self._chatter()
        elif what < 0.88 and self.spurs:
            command = self.random.choice([c for c in Command if c is not Command.ACKNOWLEDGE])
            cars = 2 if command is Command.START_BRAKE_TEST else None
            order = Order(command, self.random.choice(self.spurs), cars=cars)
            entries = self.core.order(self.t_us, order)
        elif what < 0.94 and self.open:
            order = Order(Command.ACKNOWLEDGE, violation=self.open.pop())
            entries = self.core.order(self.t_us, order)
        else:
            entries = self.core.advance(self.core.deadline_us or self.t_us)
            self.t_us = max(self.t_us, self.core.now_us)
        self.open += [entry.number for entry in entries if isinstance(entry, Violation)]

    def _chatter(self) -> list[object]:
        name = self.random.choice(self.names)
        for _ in range(24):
            self.t_us += 1000
            made = self.core.raw()[name] is not True
            found = list(self.core.reading(self.t_us, name, made))
            self.open += [entry.number for entry in found if isinstance(entry, Violation)]
        return []

    def strays(self) -> Iterator[str]:
        """Where the core stands now that the proof has not visited, or shows otherwise."""
        for stand in self.core._machines.stands:
            found = read_off(self.explored.watch, self.core, stand.number)
            for part in {cell.part for cell in found}:
                if all(cell in found for cell in part.cells):
                    state = tuple(found[cell] for cell in part.cells)
                    if state not in part.at:
                        yield f"{part.name}: {state}"
            for spur in stand.spurs:
                if spur.next_step != spur._step_in(spur.phase):
                    yield f"{spur.id}: {spur.next_step}"
            for fitted in stand.fitted:
                if fitted.shows is not fitted.look():
                    yield f"{fitted.output} of {fitted.of}"


def walk_on(name: str, steps: int, seed: int) -> list[str]:
    """Walk on one of the small layouts; the answer is where it strayed."""
    explored = explore(layout_of(name))
    walker = Walker(layout_of(name), explored, seed)
    for number in range(steps):
        if number % 5000 == 4999:
            walker.begin()
        walker.step()
        strayed = list(walker.strays())
        if strayed:
            return strayed
    return []


def walk(steps: int, seed: int = 8) -> int:
    """Walk on every small layout in turn, and say how it went."""
    each, strayed = steps // len(TEXTS), 0
    for name in TEXTS:
        began = time.monotonic()
        found = walk_on(name, each, seed)
        strayed += bool(found)
        print(
            f"{name}: {each} steps, {time.monotonic() - began:.0f} s, {found or 'no stray'}",
            flush=True,
        )
    return int(strayed > 0)
