"""``spurlock`` whose simulated hands move a harness with faults: ``faulty FAULTS COMMAND ...``.

``FAULTS`` is JSON, a list of ``[fault, [names]]``; faults of lamps are for the builder's eyes,
which are not here. The clock of the pins runs ahead within a bounce, so that no bounce is longer
or shorter because the machine is busy.
"""

from __future__ import annotations

import json
import sys
import time

import pytest

from firmware_py.commands import commission, commission_sitting
from firmware_py.commands.commission_hands import Hands
from firmware_py.commands.main import main
from firmware_py.layout.model import Layout
from firmware_py.pins.board import Board
from firmware_py.pins.mock import SimulatedFactory

from .faults import OF_LAMPS, Fault, Harness, Wrong

BOUNCES = 8
BETWEEN_NS = 8_000_000


class Clock:
    """The kernel's clock, which can run ahead for a moment."""

    ahead_ns = 0

    def __call__(self) -> int:
        """Nanoseconds."""
        return time.monotonic_ns() + self.ahead_ns


def wrong_of(text: str) -> list[Wrong]:
    """The faults that a command line names."""
    return [Wrong(Fault(fault), tuple(names)) for fault, names in json.loads(text)]


class FaultyHands(Hands):
    """Hands at contacts whose leads end where the harness has them."""

    clock: Clock
    wrong: list[Wrong]

    def __init__(self, layout: Layout, board: Board) -> None:
        contacts = {one.name: one.inverted for one in layout.contacts}
        here = [one for one in self.wrong if one.fault not in OF_LAMPS]
        self._harness, self._made = Harness(contacts, here), set[str]()
        self._pins = board
        super().__init__(layout, board)
        for sensor in contacts:
            self._update(sensor)

    def move(self, name: str, *, made: bool) -> None:
        """Move a contact, with a bounce where the harness has one."""
        if name not in self._harness.inverted:
            super().move(name, made=made)  # Which says that it is not there.
        if (name in self._made) is made:
            return
        times = BOUNCES + 1 if name in self._harness.bouncing else 1
        for at in range(times):
            self._put(name, made=made is (at % 2 == 0))
            self.clock.ahead_ns += BETWEEN_NS
        self.clock.ahead_ns = 0

    def _put(self, name: str, *, made: bool) -> None:
        (self._made.add if made else self._made.discard)(name)
        for sensor in self._harness.sensors_of(name):
            self._update(sensor)

    def _update(self, sensor: str) -> None:
        shows = self._harness.shows(sensor, self._made)
        self._pins.contacts[sensor].pin.hold(shows is self._harness.inverted[sensor])


if __name__ == "__main__":
    FaultyHands.clock, FaultyHands.wrong = Clock(), wrong_of(sys.argv[1])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(commission_sitting, "Hands", FaultyHands)
        patch.setattr(
            commission, "SimulatedFactory", lambda: SimulatedFactory(clock_ns=FaultyHands.clock)
        )
        sys.exit(main(sys.argv[2:]))
