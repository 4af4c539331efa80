"""One job at one spur, as a list of moves drawn from the layout's own two orders.

A move is something that hands, a train or a voice do; ``crew.py`` plays them at a human pace.
Seconds are those of a person who knows the work (from memory, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from random import Random

from firmware_py.core.names import Command
from firmware_py.core.pace import scale_mph
from firmware_py.layout.model import (
    FOREMAN,
    Chock,
    Derail,
    Flag,
    ForemanKind,
    Gate,
    Layout,
    Protection,
    Spur,
    Switch,
)

LOOK_S = 0.5
"""How long a crew looks whether the train has really come clear."""


@dataclass(frozen=True, slots=True)
class Touch:
    """A hand or a wheel makes or breaks a contact."""

    contact: str
    made: bool


@dataclass(frozen=True, slots=True)
class Say:
    """The crew, or the foreman, gives an order."""

    command: Command
    cars: int | None = None


@dataclass(frozen=True, slots=True)
class Pause:
    """The crew walks, looks or waits."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Train:
    """The train stands until detectors settle, or runs through a trap: no haste shortens that."""

    seconds: float


@dataclass(frozen=True, slots=True)
class AwaitRelease:
    """The crew waits for the foreman."""


@dataclass(frozen=True, slots=True)
class AwaitBrakes:
    """The crew waits for the brake test to end, if one runs."""


Move = Touch | Say | Pause | Train | AwaitRelease | AwaitBrakes


class Slip(StrEnum):
    """What a hurried crew gets wrong."""

    FLAG_LEFT_UP = "works with a flag still displayed"
    KEY_LEFT = "opens the padlock with a spare key"
    NOT_ASKED = "does not ask the foreman"
    THROWN_EARLY = "throws the points back under the cars"
    LOCKED_FIRST = "locks up before the rest is back"
    TOO_FAST = "runs in faster than the limit"


class Job:
    """A job at ``spur``, with at most one slip."""

    def __init__(self, layout: Layout, spur: Spur, random: Random, slip: Slip | None) -> None:
        self.spur = spur
        self._switch = next(switch for switch in layout.switches if switch.id == spur.switch)
        things: tuple[Protection, ...] = (
            *layout.gates,
            *layout.derails,
            *layout.flags,
            *layout.chocks,
        )
        self._things = {thing.id: thing for thing in things if thing.spur == spur.id}
        self._traps = layout.traps
        self._ratio = layout.ratio
        self._keys = {key.id: key for key in layout.keys}
        self._random = random
        self._slip = slip
        self._taken: set[str] = set()

    @property
    def keys(self) -> set[str]:
        """The keys that the job needs."""
        gates = [thing.key for thing in self._things.values() if isinstance(thing, Gate)]
        return {key for key in (self._switch.key, *gates) if key is not None}

    def moves(self) -> Iterator[Move]:
        """Every move, from walking up to walking away."""
        if self._slip is not Slip.NOT_ASKED:
            yield Say(Command.ASK)
        for step in self.spur.opening:
            yield from self._take_off(step)
        yield from self._work()
        yield Say(Command.WORK_DONE)
        closing = self.spur.closing
        if self._slip is Slip.LOCKED_FIRST:
            closing = (self._switch.id, *(step for step in closing if step != self._switch.id))
        for step in closing:
            yield from self._put_back(step)
        for key in sorted(self._taken):
            yield from self._touch(self._keys[key].hook.name, True, 2, 5)

    def _take_off(self, step: str) -> Iterator[Move]:
        if step == FOREMAN:
            if self.spur.foreman is not ForemanKind.NONE and self._slip is not Slip.NOT_ASKED:
                yield AwaitRelease()
        elif step == self._switch.id:
            yield from self._line(self._switch)
        else:
            yield from self._thing_off(self._things[step])

    def _thing_off(self, thing: Gate | Derail | Flag | Chock) -> Iterator[Move]:
        match thing:
            case Flag() if self._slip is Slip.FLAG_LEFT_UP:
                yield Pause(1)
            case Flag() | Chock():
                yield from self._touch(thing.rack.name, True, 3, 7)
            case Gate():
                yield from self._unlock(thing)
                yield from self._touch(thing.shut.name, False, 2, 4)
            case Derail():
                if thing.hasp:
                    yield from self._touch(thing.hasp.name, False, 2, 4)
                yield from self._touch(thing.on.name, False, 2, 3)

    def _put_back(self, step: str) -> Iterator[Move]:
        if step == FOREMAN:
            if self.spur.foreman is not ForemanKind.NONE and self._slip is not Slip.NOT_ASKED:
                yield Pause(self._random.uniform(2, 4))
                yield Say(Command.HAND_BACK)
        elif step == self._switch.id:
            yield from self._restore(self._switch)
        else:
            yield from self._thing_back(self._things[step])

    def _thing_back(self, thing: Gate | Derail | Flag | Chock) -> Iterator[Move]:
        match thing:
            case Flag() if self._slip is Slip.FLAG_LEFT_UP:
                yield Pause(1)
            case Flag() | Chock():
                yield from self._touch(thing.rack.name, False, 3, 7)
            case Gate():
                yield from self._touch(thing.shut.name, True, 2, 4)
                if thing.hasp:
                    yield from self._touch(thing.hasp.name, True, 1, 3)
            case Derail():
                yield from self._touch(thing.on.name, True, 2, 3)
                if thing.hasp:
                    yield from self._touch(thing.hasp.name, True, 1, 3)

    def _unlock(self, thing: Switch | Gate) -> Iterator[Move]:
        fetches = thing.key is not None and thing.key not in self._taken
        if thing.key is not None and fetches and self._slip is not Slip.KEY_LEFT:
            self._taken.add(thing.key)
            yield from self._touch(self._keys[thing.key].hook.name, False, 3, 6)
        if thing.hasp:
            yield from self._touch(thing.hasp.name, False, 2, 5)

    def _line(self, switch: Switch) -> Iterator[Move]:
        yield from self._unlock(switch)
        yield from self._touch(switch.normal.name, False, 1, 3)
        yield from self._touch(switch.reverse.name, True, 0.4, 1.0)

    def _restore(self, switch: Switch) -> Iterator[Move]:
        if self._slip is not Slip.THROWN_EARLY:
            yield from self._throw_back(switch)
        if switch.hasp:
            yield from self._touch(switch.hasp.name, True, 2, 4)

    def _throw_back(self, switch: Switch) -> Iterator[Move]:
        yield from self._touch(switch.reverse.name, False, 1, 3)
        yield from self._touch(switch.normal.name, True, 0.4, 1.0)

    def _work(self) -> Iterator[Move]:
        switch, spur = self._switch, self.spur
        cars_stood = self._random.random() < 0.5
        if switch.detector:
            yield from self._touch(switch.detector.name, True, 4, 8)
        if spur.detector:
            yield self._run_in()
            yield Touch(spur.detector.name, True)
        yield Pause(self._random.uniform(3, 6))
        if switch.detector:
            yield from self._touch(switch.detector.name, False, 2, 4)
        if self._slip is not Slip.FLAG_LEFT_UP:
            yield Train(self._settling_s)
            yield Say(Command.START_BRAKE_TEST, cars=self._random.randint(1, 4))
            yield AwaitBrakes()
        if switch.detector:
            yield from self._touch(switch.detector.name, True, 3, 5)
        if spur.detector and cars_stood:
            yield from self._touch(spur.detector.name, False, 2, 4)
        if self._slip is Slip.THROWN_EARLY:
            yield from self._throw_back(switch)
        if switch.detector:
            yield from self._touch(switch.detector.name, False, 2, 4)
        yield Train(self._settling_s)

    def _run_in(self) -> Pause | Train:
        """From the points into the spur: as slowly as a trap there wants it, or not."""
        detectors = {f"{self._switch.id}.detector", f"{self.spur.id}.detector"}
        for trap in self._traps:
            if trap.limit_mph is not None and {trap.first, trap.second} == detectors:
                at_limit_s = scale_mph(trap.distance_mm, 1_000_000, self._ratio) / trap.limit_mph
                fast = self._slip is Slip.TOO_FAST
                slower = self._random.uniform(0.5, 0.8) if fast else self._random.uniform(1.1, 1.4)
                return Train(at_limit_s * slower)
        return Pause(self._random.uniform(3, 6))

    @property
    def _settling_s(self) -> float:
        detectors = (self._switch.detector, self.spur.detector)
        return max((d.clear_us for d in detectors if d is not None), default=0) / 1e6 + LOOK_S

    def _touch(self, contact: str, made: bool, low: float, high: float) -> Iterator[Move]:
        yield Pause(self._random.uniform(low, high))
        yield Touch(contact, made)
