"""Playing a tape through the core, streaming: from lines to entries, in flat memory."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

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
    player = Player(layout)
    source = iter(lines)
    while True:
        try:
            line = next(source, None)
        except TapeError:
            yield from player.begin()
            raise
        if line is None:
            break
        yield from player.play(line)
    yield from player.finish()


class Player:
    """Plays lines one at a time; ``core`` is there once the first line after 0 has come."""

    def __init__(self, layout: Layout, *, notes: bool = False) -> None:
        self._layout = layout
        self._notes = notes
        self._standing: dict[str, bool | None] = {}
        self._orders: list[Order] = []
        self._last_us = 0
        self.core: Core | None = None

    def play(self, line: TapeLine) -> Sequence[Entry]:
        """Play a line; answers what happened up to it."""
        if self.core is None and line.t_us == 0:
            self._take_outset(line)
            return ()
        begun = self.begin()
        self._last_us = line.t_us
        entries = self._act(self._core(), line)
        return [*begun, *entries] if begun else entries

    def begin(self) -> Sequence[Entry]:
        """Begin, if nothing has begun yet: all that stands at 0 is known now."""
        if self.core is not None:
            return ()
        self.core = Core(self._layout, self._standing, notes=self._notes)
        return [entry for order in self._orders for entry in self.core.order(0, order)]

    def finish(self) -> Sequence[Entry]:
        """What the last line leaves due at its own time."""
        return [*self.begin(), *self._core().advance(self._last_us)]

    def _take_outset(self, line: TapeLine) -> None:
        if isinstance(line, RawReading):
            self._standing[line.contact] = line.made
        elif isinstance(line, TapeOrder):
            self._orders.append(line.order)

    def _act(self, core: Core, line: TapeLine) -> Sequence[Entry]:
        if isinstance(line, RawReading):
            return core.reading(line.t_us, line.contact, line.made)
        if isinstance(line, TapeOrder):
            return core.order(line.t_us, line.order)
        return core.advance(line.t_us)

    def _core(self) -> Core:
        assert self.core is not None, "the tape has begun"
        return self.core
