"""Wiring faults, and the harness they make of a layout's wires.

A lead runs from each source to a sensor. This is a model of the wires alone: it shares no code
with what works the faults out again.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from random import Random


class Fault(StrEnum):
    """What can be wrong, as a solderer would do it."""

    SWAP = "swap"
    """Two leads end at each other's pins."""
    INVERT = "invert"
    """A contact closes when it should open."""
    OPEN = "open"
    """A lead is broken at its contact; the rest of it still hangs on the pin."""
    SHORT = "short"
    """Two leads touch."""
    GROUND = "ground"
    """A lead touches ground."""
    BOUNCE = "bounce"
    NOISE = "noise"
    LAMP_SWAP = "lamp-swap"
    LAMP_OPEN = "lamp-open"


PAIRS = (Fault.SWAP, Fault.SHORT, Fault.LAMP_SWAP)
OF_LAMPS = (Fault.LAMP_SWAP, Fault.LAMP_OPEN)


@dataclass(frozen=True)
class Wrong:
    """One fault of one wire, or of two."""

    fault: Fault
    names: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.fault}({', '.join(self.names)})"


def singles(contacts: Sequence[str], outputs: Sequence[str]) -> list[Wrong]:
    """Every fault there can be, one by one."""
    found = []
    for fault in Fault:
        names = outputs if fault in OF_LAMPS else contacts
        for at, name in enumerate(names):
            others = [(name, other) for other in names[at + 1 :]] if fault in PAIRS else [(name,)]
            found += [Wrong(fault, some) for some in others]
    return found


def at_random(random: Random, contacts: Sequence[str], outputs: Sequence[str]) -> list[Wrong]:
    """One to three faults. Now and then they meet: a wire of one is taken for the next as well."""
    wrong: list[Wrong] = []
    for _ in range(random.randint(1, 3)):
        fault = random.choice([*Fault])
        pool = list(outputs if fault in OF_LAMPS else contacts)
        names = random.sample(pool, 2 if fault in PAIRS else 1)
        before = [name for one in wrong for name in one.names if name in pool]
        if before and random.random() < 0.5:
            names[0] = random.choice(before)
            names[1:] = [n for n in names[1:] if n != names[0]] or [
                random.choice([n for n in pool if n != names[0]]) for _ in names[1:]
            ]
        wrong.append(Wrong(fault, tuple(names)))
    return wrong


class Harness:
    """Sources, leads and sensors. ``inverted`` holds every name: closed while *not* made.

    ``ends`` gives the sensor of each lead; sensors of all others are their own.
    """

    def __init__(self, inverted: Mapping[str, bool], wrong: Iterable[Wrong] = ()) -> None:
        self.inverted = dict(inverted)
        self.ends = {name: name for name in inverted}
        self.turned: set[str] = set()
        self.broken: set[str] = set()
        self.grounded: set[str] = set()
        self.noisy: set[str] = set()
        self.bouncing: set[str] = set()
        self.touching = {name: {name} for name in inverted}
        for one in wrong:
            self.suffer(one)
        self.index()

    def suffer(self, wrong: Wrong) -> None:
        """Do a fault to it."""
        first, last = wrong.names[0], wrong.names[-1]
        match wrong.fault:
            case Fault.SWAP | Fault.LAMP_SWAP:
                self.ends[first], self.ends[last] = self.ends[last], self.ends[first]
            case Fault.INVERT:
                self.turned ^= {first}
            case Fault.OPEN | Fault.LAMP_OPEN:
                self.broken.add(first)
            case Fault.SHORT:
                self.touch(first, last)
            case Fault.GROUND:
                self.grounded.add(first)
            case Fault.BOUNCE:
                self.bouncing.add(first)
            case Fault.NOISE:
                self.noisy.add(first)

    def touch(self, first: str, last: str) -> None:
        """Join two leads, and all that is joined to them."""
        net = self.touching[first] | self.touching[last]
        for name in net:
            self.touching[name] = net

    def index(self) -> None:
        """Work out which leads are at each sensor, once all faults are done."""
        lead = {end: name for name, end in self.ends.items()}
        self.net = {sensor: self.touching[lead[sensor]] for sensor in self.inverted}

    def sensors_of(self, source: str) -> list[str]:
        """The sensors that a lead reaches."""
        return [self.ends[name] for name in self.touching[source]]

    def closed(self, sensor: str, made: Collection[str], pulsed: Collection[str] = ()) -> bool:
        """Whether a sensor's circuit is closed; ``pulsed`` are leads in a pulse of noise."""
        return any(
            name in self.grounded or name in pulsed or self._closes(name, made)
            for name in self.net[sensor]
        )

    def shows(self, sensor: str, made: Collection[str], pulsed: Collection[str] = ()) -> bool:
        """What a sensor reads: made or not, as the layout file has it."""
        return self.closed(sensor, made, pulsed) is not self.inverted[sensor]

    def _closes(self, name: str, made: Collection[str]) -> bool:
        if name in self.broken:
            return False
        return ((name in made) is not self.inverted[name]) is not (name in self.turned)
