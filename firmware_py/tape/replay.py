"""Playing a tape through the core, streaming: from lines to entries, in flat memory."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.core.orders import Order
from firmware_py.layout.model import Layout
from firmware_py.tape.errors import TapeError
from firmware_py.tape.reading import RawReading, TapeLine, TapeOrder


def replay(layout: Layout, lines: Iterable[TapeLine]) -> Iterator[Entry]:
    """The entries of a tape, in order.

    Readings at 0 say how things stand before the tape begins; orders at 0 come after them.
    At a ``TapeError`` everything that came before it is given first; then it is raised.
    """
    outset = _Outset()
    core: Core | None = None
    last_us = 0
    broken: TapeError | None = None
    source = iter(lines)
    while True:
        try:
            line = next(source, None)
        except TapeError as error:
            line, broken = None, error
        if line is None:
            break
        if core is None:
            if outset.takes(line):
                continue
            core = Core(layout, outset.standing)
            yield from outset.orders_at(core)
        last_us = line.t_us
        if isinstance(line, RawReading):
            yield from core.reading(last_us, line.contact, line.made)
        elif isinstance(line, TapeOrder):
            yield from core.order(last_us, line.order)
        else:
            yield from core.advance(last_us)
    if core is None:
        core = Core(layout, outset.standing)
        yield from outset.orders_at(core)
    if broken is not None:
        raise broken
    yield from core.advance(last_us)


class _Outset:
    """What a tape says at 0."""

    def __init__(self) -> None:
        self.standing: dict[str, bool | None] = {}
        self._orders: list[Order] = []

    def takes(self, line: TapeLine) -> bool:
        """Take a line that belongs to the outset; say whether it does."""
        if line.t_us:
            return False
        if isinstance(line, RawReading):
            self.standing[line.contact] = line.made
        elif isinstance(line, TapeOrder):
            self._orders.append(line.order)
        return True

    def orders_at(self, core: Core) -> Iterator[Entry]:
        """Give the orders of the outset to a core that has just begun."""
        for order in self._orders:
            yield from core.order(0, order)
