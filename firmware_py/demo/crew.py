"""Scripted crews on simulated pins: honest jobs, now and then a slip, at a human pace."""

from __future__ import annotations

import threading
from collections.abc import Callable
from random import Random
from typing import Protocol

from firmware_py.core.entries import BrakeTestEntry, Entry, ForemanEntry
from firmware_py.core.names import BrakeTest, Command, Foreman
from firmware_py.core.orders import Order
from firmware_py.demo.job import (
    AwaitBrakes,
    AwaitRelease,
    Job,
    Move,
    Pause,
    Say,
    Slip,
    Touch,
    Train,
)
from firmware_py.engine.ports import Given
from firmware_py.layout.model import ForemanKind, Layout, Spur

CREWS = 2
SLIP_ONE_IN = 3
HOST_ANSWERS_S = (8.0, 20.0)
REST_S = (3.0, 9.0)
BOUNCE_S = 0.002
TEST_BEGINS_S = 0.2
"""By then the engine has begun a brake test that it was asked for, or refused it."""


class Workplace(Protocol):
    """What crews work on: the engine's plant."""

    layout: Layout
    listeners: list[Callable[[Entry], None]]
    began: threading.Event

    def hand(self, contact: str, made: bool | None) -> None:
        """Make or break a contact."""

    def give(self, given: Given) -> None:
        """Give an order."""


class _Stopped(Exception):  # noqa: N818 - it ends a crew's thread, and is no error
    """The demo is over."""


class Crews:
    """``CREWS`` crews, each a thread that takes one free spur after another.

    ``pace`` divides every pause of people's; 1 is human. A host's foreman is answered for after
    a while, so that the demo goes on when nobody sits at the board.
    """

    def __init__(self, plant: Workplace, *, seed: int | None, pace: float) -> None:
        self._plant = plant
        self._pace = pace
        self._random = Random(seed)
        self._stop = threading.Event()
        self._free = threading.Condition()
        self._busy: set[str] = set()
        self._foremen: dict[str, Foreman] = {}
        self._tests: dict[str, BrakeTest] = {}
        self._threads = [
            threading.Thread(target=self._run, args=(Random(self._random.random()),), daemon=True)
            for _ in range(CREWS)
        ]
        plant.listeners.append(self._hear)

    def start(self) -> None:
        """Let them begin, once the session has."""
        for thread in self._threads:
            thread.start()

    def stop(self) -> None:
        """Have them leave where they stand."""
        self._stop.set()
        with self._free:
            self._free.notify_all()
        for thread in self._threads:
            thread.join(2.0)

    def _run(self, random: Random) -> None:
        try:
            while not self._plant.began.wait(0.2):
                self._wait(0)
            while True:
                self._wait(random.uniform(*REST_S))
                self._work(random)
        except _Stopped:
            return

    def _work(self, random: Random) -> None:
        slip = random.choice(list(Slip)) if random.randrange(SLIP_ONE_IN) == 0 else None
        spur = random.choice(self._plant.layout.spurs)
        job = Job(self._plant.layout, spur, random, slip)
        wanted = {spur.id, spur.switch, *job.keys}
        with self._free:
            if wanted & self._busy:
                return  # Another crew has the spur or a key; think of something else.
            self._busy |= wanted
        try:
            for move in job.moves():
                self._play(spur, move, random)
        finally:
            with self._free:
                self._busy -= wanted

    def _play(self, spur: Spur, move: Move, random: Random) -> None:
        match move:
            case Pause():
                self._wait(move.seconds)
            case Train():
                self._let_pass(move.seconds)
            case Touch():
                self._touch(move, random)
            case Say():
                self._plant.give(Given(Order(move.command, spur.id, None, move.cars)))
            case AwaitRelease():
                self._await_release(spur, random)
            case AwaitBrakes():
                self._await_brakes(spur)

    def _touch(self, move: Touch, random: Random) -> None:
        for _ in range(random.randrange(3)):  # Contacts bounce a millisecond or two.
            self._plant.hand(move.contact, move.made)
            self._stop.wait(BOUNCE_S)
            self._plant.hand(move.contact, not move.made)
            self._stop.wait(BOUNCE_S)
        self._plant.hand(move.contact, move.made)

    def _await_release(self, spur: Spur, random: Random) -> None:
        answers_in = random.uniform(*HOST_ANSWERS_S)
        while self._foremen.get(spur.id) is not Foreman.RELEASED:
            self._wait(0.5)
            answers_in -= 0.5
            asked = self._foremen.get(spur.id) is Foreman.ASKED
            if asked and answers_in <= 0 and spur.foreman is ForemanKind.HOST:
                self._plant.give(Given(Order(Command.RELEASE, spur.id)))
                answers_in = HOST_ANSWERS_S[1]

    def _await_brakes(self, spur: Spur) -> None:
        self._let_pass(TEST_BEGINS_S)
        while self._tests.get(spur.id) is BrakeTest.RUNNING:
            self._let_pass(0.1)

    def _wait(self, seconds: float) -> None:
        self._let_pass(seconds / self._pace)

    def _let_pass(self, seconds: float) -> None:
        if self._stop.wait(seconds):
            raise _Stopped

    def _hear(self, entry: Entry) -> None:
        if isinstance(entry, ForemanEntry):
            self._foremen[entry.spur] = entry.foreman
        elif isinstance(entry, BrakeTestEntry):
            self._tests[entry.spur] = entry.test
