"""From a way to a tape: lines and their times, tried on a core that nobody watches."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry, Violation
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.core.stand import Stand
from firmware_py.layout.model import Layout
from firmware_py.proof.following import work
from firmware_py.proof.moves import Move
from firmware_py.proof.places import Evening
from firmware_py.proof.putting_back import Hands
from firmware_py.proof.search import Way

GAP_US = 100_000
"""Between one event and the next."""

LONG_US = 1_000_000_000
"""Longer than every deadline of a layout with usual times."""

TapeRow = dict[str, Any]


class Showing:
    """Plays a way on the shipped core, and writes down each line as it is played."""

    def __init__(self, layout: Layout, way: Way) -> None:
        self.layout = layout
        self.core = Core(layout, dict(way.standing))
        self.rows: list[TapeRow] = [
            {"t": 0, "contact": name, "made": made} for name, made in way.standing
        ]
        self.t_us = 1_000_000
        self.entries: list[Entry] = []
        self._open: list[int] = []

    def play(self, way: Way) -> bool:
        """Play it; say whether each move could be made as it was meant, or the core failed."""
        try:
            return all([self._make(move) for move in way.moves])  # noqa: C419 - StopIteration
        except (LookupError, StopIteration):
            return True

    def go_on(self) -> None:
        """Go on until what is hidden in the core ought to have come to light.

        A fault that comes and goes, everything put back, a job on each spur by the book, points
        that move there and back under the lock, foul, and time for every deadline.
        """
        evening = Evening(self.layout, {})
        evening.core, evening.rows, evening.t_us = self.core, self.rows, self.t_us
        with contextlib.suppress(LookupError, StopIteration):
            _probe(evening)
        self.t_us = evening.t_us + LONG_US

    def finish(self) -> list[TapeRow]:
        """The whole tape."""
        return [*self.rows, {"t": self.t_us / 1_000_000, "end": True}]

    def _take(self, entries: Any) -> None:  # noqa: ANN401 - a sequence of entries
        self.entries = list(entries)
        self._open += [e.number for e in entries if isinstance(e, Violation)]

    def _make(self, move: Move) -> bool:
        if move.act in ("due", "quiet"):
            return self._wait(move)
        if move.act == "chatters":
            return self._chatter(move.on)
        if move.act == "acknowledge":
            return self._acknowledge()
        if move.act == "lost":
            return self._read(move.on, None)
        if move.value is not None:
            return self._read(move.on, move.value)
        return self._order(Command(move.act), move.on)

    def _read(self, name: str, made: bool | None) -> bool:
        contact = self.core._contacts[name]
        self._line(contact=name, made=made)
        entries = list(self.core.reading(self.t_us, name, made))
        if made is not None:
            self.t_us += contact._settle_us if made else contact._clear_us
            entries += self.core.advance(self.t_us)
        self._take(entries)
        self.t_us += GAP_US
        return contact.settled is made

    def _order(self, command: Command, spur: str) -> bool:
        cars = 1 if command is Command.START_BRAKE_TEST else None
        self._line(command=command.value, spur=spur, **({"cars": cars} if cars else {}))
        self._take(self.core.order(self.t_us, Order(command, spur, cars=cars)))
        self.t_us += GAP_US
        return True

    def _acknowledge(self) -> bool:
        if not self._open:
            return False
        number = self._open.pop(0)
        self._line(command="acknowledge", violation=number)
        order = Order(Command.ACKNOWLEDGE, violation=number)
        self._take(self.core.order(self.t_us, order))
        self.t_us += GAP_US
        return True

    def _chatter(self, name: str) -> bool:
        contact = self.core._contacts[name]
        made = contact.raw is not True
        for _ in range(22 if contact.raw is None else 21):
            self._line(contact=name, made=made)
            self._take(self.core.reading(self.t_us, name, made))
            self.t_us += 1000
            made = not made
            if contact.chattering:
                break
        return contact.chattering

    def _wait(self, move: Move) -> bool:
        due_us = self._due_us(move)
        if due_us is None:
            return False
        self._take(self.core.advance(max(due_us, self.t_us)))
        self.t_us = max(due_us, self.t_us) + GAP_US
        return True

    def _due_us(self, move: Move) -> int | None:
        if move.act == "quiet":
            return self.core._contacts[move.on]._quiet.due_us
        timers = (timer for stand in self._stands() for timer in stand.timers)
        assert move.timer is not None, "what falls due is a deadline"
        due = next(timer for timer in timers if timer.name == move.timer.name)
        return due.due_us

    def _stands(self) -> Iterator[Stand]:
        yield from self.core._machines.stands

    def _line(self, **what: Any) -> None:  # noqa: ANN401 - what a line of a tape holds
        self.rows.append({"t": self.t_us / 1_000_000, **what})


def _probe(evening: Evening) -> None:
    layout = evening.layout
    for switch in layout.switches:
        for contact in (switch.normal, switch.reverse):
            evening.put(contact, True)
        if switch.hasp is not None:
            evening.settle(switch.hasp, None)
    Hands(evening).all_back()
    for spur in layout.spurs:
        work(evening, spur, leave=False)
    for spur in layout.spurs:
        evening.order(Command.ASK, spur.id)
    for switch in layout.switches:
        evening.put(switch.normal, False)
        evening.put(switch.reverse, True)
        for spur in layout.spurs:
            evening.put(spur.fouling, True)
        evening.put(switch.reverse, False)
        evening.put(switch.normal, True)
