"""Memory with open ends: what a core remembers, as sets of values that are split when asked.

A *cell* is one thing that the core remembers; cells that depend on each other lie together in a
*part*, whose *states* are tuples of their values. While the core runs, each part stands at a
*domain*, a set of its states, held as the bits of one integer. Reading a cell on which the
domain disagrees *splits* it: the run goes on with one value, and is done again with each other
one. So one run stands for every state that agrees with it in whatever it has read.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable

State = tuple[Hashable, ...]


class Infeasible(Exception):  # noqa: N818 - nothing went wrong: no such state can be met
    """The choices made so far contradict each other; nothing stands at this place."""


class Part:
    """Cells that depend on each other, with every state of them that was found so far."""

    __slots__ = ("at", "cells", "moved", "name", "origin", "place", "states", "tests")

    def __init__(self, name: str, place: int) -> None:
        self.name = name
        self.place = place
        self.cells: list[Cell] = []
        self.states: list[State] = []
        self.at: dict[State, int] = {}
        self.origin: list[object] = []
        self.tests: list[Test] = []
        self.moved: dict[tuple[tuple[int, Hashable], ...], int] = {}
        """For each set of writes, the states to which it was applied already."""

    @property
    def full(self) -> int:
        """The domain of every state found so far."""
        return (1 << len(self.states)) - 1

    def add(self, state: State, origin: object = None) -> bool:
        """Note a state; say whether it is new."""
        if state in self.at:
            return False
        bit = 1 << len(self.states)
        self.at[state] = len(self.states)
        self.states.append(state)
        self.origin.append(origin)
        for cell, value in zip(self.cells, state, strict=True):
            cell.masks[value] = cell.masks.get(value, 0) | bit
        return True


class Cell:
    """One thing remembered, in its part; ``masks`` holds the states with each value."""

    __slots__ = ("index", "masks", "name", "part")

    def __init__(self, part: Part, name: str) -> None:
        self.part = part
        self.name = name
        self.index = len(part.cells)
        self.masks: dict[Hashable, int] = {}
        part.cells.append(self)

    def __repr__(self) -> str:
        return f"{self.part.name}/{self.name}"


class Test:
    """A question about one part alone, answered by the core's own code state by state."""

    __slots__ = ("ask", "before", "no", "part", "seen", "yes")

    def __init__(self, part: Part, ask: Callable[[], bool], *, before: bool = True) -> None:
        self.part = part
        self.before = before
        self.ask = ask
        self.yes = self.no = self.seen = 0


def bits(domain: int) -> Iterable[int]:
    """The places of the bits that are set."""
    text = bin(domain)[:1:-1]
    at = text.find("1")
    while at >= 0:
        yield at
        at = text.find("1", at + 1)
