"""The bench: a faulty harness between a builder's hands and the simulated pins of a real board."""

from __future__ import annotations

import heapq
from collections.abc import Callable
from itertools import count
from random import Random

from firmware_py.commands.commission_driving import show_only
from firmware_py.commissioning.commission import Commission
from firmware_py.commissioning.model import Answer, Evidence, Finding, Said, Step
from firmware_py.commissioning.wires import Wires, wires_of
from firmware_py.layout.model import MADE_AT_REST, Layout
from firmware_py.pins.board import Board
from firmware_py.pins.mock import SimulatedFactory

from .faults import Fault, Harness, Wrong

TICK_US = 100_000
USUAL_BOUNCE_US = 6_200
"""What Ganssle measured at most of sixteen switches ("The secret life of switches")."""
LONGEST_RUN_US = 3_600_000_000


class Bench:
    """A layout with a faulty harness, a scripted builder who does what he is told, and the core."""

    def __init__(
        self, layout: Layout, wrong: list[Wrong], seed: int, evidence: Evidence | None = None
    ) -> None:
        self.layout = layout
        self.random = Random(seed)
        self.now_us = 1_000_000
        self.factory = SimulatedFactory(clock_ns=lambda: self.now_us * 1000)
        self.contacts = {contact.name: contact for contact in layout.contacts}
        self.wires: Wires = wires_of(layout)
        self.board = Board(layout, self.factory, clock_ns=lambda: self.now_us * 1000)
        self.made = {c.name for c in layout.contacts if c.role in MADE_AT_REST}
        self.pulsed: set[str] = set()
        self._events: list[tuple[int, int, Callable[[], None]]] = []
        self._order = count()
        self.answers = 0
        self.solder(wrong)
        self.commission = Commission(layout, self.now_us, self.board.levels(), evidence)
        self.board.watch(self.commission.edge)

    def solder(self, wrong: list[Wrong]) -> None:
        """Do the harness anew, with these faults."""
        lamps = [one for one in wrong if one.fault in (Fault.LAMP_SWAP, Fault.LAMP_OPEN)]
        inverted = {name: contact.inverted for name, contact in self.contacts.items()}
        self.harness = Harness(inverted, [one for one in wrong if one not in lamps])
        self.lamps = Harness(dict.fromkeys(self.wires.outputs, False), lamps)
        self._noise = [*self.harness.noisy]
        for name in self.harness.noisy:
            self._after(self.random.randint(1_000, 900_000), self._pulse(name))
        for sensor in self.contacts:
            self._update(sensor)

    def run(self, until: Callable[[], bool] | None = None) -> tuple[Finding, ...]:
        """Let the builder go on until all is through (or ``until`` says so)."""
        commission = self.commission
        met, acted_us, moved = 0, 0, False
        began_us = self.now_us
        while not commission.complete and not (until and until()):
            asked = commission.instruction
            if asked.number != met:
                met, acted_us, moved = asked.number, self.now_us + self._reaction(), False
                show_only(self.board, asked.drive)
            self._to(self.now_us + TICK_US)
            commission.time(self.now_us)
            if commission.instruction.number == met and self.now_us >= acted_us:
                if not moved:
                    self._act()
                    moved, acted_us = True, self.now_us + 1_500_000
                elif asked.step is not Step.LISTEN:
                    self._say(Said.DONE)
                    acted_us = self.now_us + 2_000_000
            assert self.now_us - began_us < LONGEST_RUN_US, f"no end: {asked}"
        return commission.findings()

    def close(self) -> None:
        """Give the pins back."""
        self.board.close()
        self.factory.close()

    def _reaction(self) -> int:
        return self.random.randint(300_000, 900_000)

    def _say(self, said: Said, seen: tuple[str, ...] = ()) -> None:
        self.answers += 1
        self.commission.answer(Answer(self.commission.instruction.number, said, seen), self.now_us)

    def _act(self) -> None:
        """Do with hands and eyes what is asked, as anyone would who sees things and not wires."""
        asked = self.commission.instruction
        match asked.step:
            case Step.PREPARE:
                for name in sorted(self.made):
                    self._hand(name, made=False)
            case Step.MAKE | Step.BREAK:
                assert asked.about is not None
                made = asked.step is Step.MAKE
                apart = self.wires.apart.get(asked.about)
                if made and apart in self.made:
                    self._hand(apart, made=False)
                self._hand(asked.about, made=made)
            case Step.DARK | Step.LOOK:
                self._say(Said.SEEN, self._lit())
            case _:
                pass

    def _lit(self) -> tuple[str, ...]:
        driven = {name for name, key in self.wires.drives.items() if self.board.outputs[key].value}
        return tuple(name for name in self.wires.outputs if self.lamps.shows(name, driven))

    def _hand(self, name: str, *, made: bool) -> None:
        """Move a contact: with the bounce that any has, or with far more."""
        if (name in self.made) is made:
            return
        bad = name in self.harness.bouncing
        edges = 2 * (self.random.randint(2, 7) if bad else self.random.randint(0, 2))
        us = self.random.randint(30_000, 150_000) if bad else USUAL_BOUNCE_US
        times = sorted(self.random.randint(1, us) for _ in range(edges))
        if bad:
            # Evenly enough that it is one bounce; the last edge makes it as long as was drawn.
            times = [us * (at + 1) // edges for at in range(edges)]
        self._set(name, made=made)()
        level = made
        for t_us in times:
            level = not level
            self._after(t_us, self._set(name, made=level))

    def _set(self, name: str, *, made: bool) -> Callable[[], None]:
        def change() -> None:
            (self.made.add if made else self.made.discard)(name)
            for sensor in self.harness.sensors_of(name):
                self._update(sensor)

        return change

    def _pulse(self, name: str) -> Callable[[], None]:
        def end() -> None:
            self.pulsed.discard(name)
            for sensor in self.harness.sensors_of(name):
                self._update(sensor)

        def begin() -> None:
            if name not in self.harness.noisy:
                return
            self.pulsed.add(name)
            for sensor in self.harness.sensors_of(name):
                self._update(sensor)
            self._after(self.random.randint(50, 3_000), end)
            self._after(self.random.randint(150_000, 1_500_000), begin)

        return begin

    def _update(self, sensor: str) -> None:
        self.factory.hand(self.contacts[sensor], self.harness.shows(sensor, self.made, self.pulsed))

    def _after(self, us: int, event: Callable[[], None]) -> None:
        heapq.heappush(self._events, (self.now_us + us, next(self._order), event))

    def _to(self, t_us: int) -> None:
        while self._events and self._events[0][0] <= t_us:
            self.now_us, _, event = heapq.heappop(self._events)
            event()
        self.now_us = t_us
