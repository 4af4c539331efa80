"""From a simulated contact to its lamp, through the engine, against gpiozero alone.

The baseline is ``device.when_activated = led.on`` on gpiozero's own mock pins. There the lamp
is switched within the call that moves the contact; ours goes through a queue to the engine's
thread, which the layout's settle time of 0 lets act at once.
"""

from __future__ import annotations

import statistics
import threading
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from queue import SimpleQueue

from gpiozero import LED, DigitalInputDevice
from gpiozero.pins.mock import MockFactory

from firmware_py.core.core import Core
from firmware_py.core.entries import OutputEntry
from firmware_py.core.names import Shows
from firmware_py.engine.engine import Engine
from firmware_py.engine.ports import Stop
from firmware_py.layout.model import Contact
from firmware_py.layout.reading import parse_layout
from firmware_py.pins.board import Board
from firmware_py.pins.mock import SimulatedFactory

SWITCHES = 100
EDGES_EACH = 10
"""Few enough within a second that no contact is taken to chatter."""

SWITCH = """
[[switch]]
id = "s{n}"
contacts = {{ hasp = "auto", normal = "auto", reverse = "auto" }}
lamps = {{ green = "auto", red = "auto", white = "auto" }}
"""
TIMES = """
[times]
settle = 0.0
clear_after = 0.0
"""


@dataclass(frozen=True, slots=True)
class Latency:
    """Medians in seconds: across the engine's thread, on one thread, and gpiozero alone.

    ``hopped`` is gpiozero alone once more, its lamp switched by another thread that a bare queue
    wakes: what the hop costs whoever does it.
    """

    threaded: float
    in_line: float
    baseline: float
    hopped: float


class _Quiet:
    """A diary that takes nothing down: the disk is not what is measured."""

    def together(self) -> AbstractContextManager[None]:
        return nullcontext()

    def __getattr__(self, name: str) -> object:
        return lambda *args, **kwargs: None


class _Stand:
    """A layout of padlocked switches at rest on simulated pins."""

    def __init__(self) -> None:
        text = TIMES + "".join(SWITCH.format(n=n) for n in range(SWITCHES))
        self.layout = parse_layout(text, "lamp.toml")
        self.factory = SimulatedFactory()
        self.factory.rest(self.layout.contacts)
        self.board = Board(self.layout, self.factory)

    def moves(self) -> Iterator[tuple[Contact, bool]]:
        """Each hasp opened and locked a few times; each move switches the stand's red lamp."""
        for switch in self.layout.switches:
            assert switch.hasp is not None, "these switches have padlocks"
            for number in range(EDGES_EACH):
                yield switch.hasp, number % 2 == 1


def bare() -> float:
    """Median seconds from a mock contact to its lamp with gpiozero alone."""
    factory = MockFactory()
    device = DigitalInputDevice(5, pull_up=True, pin_factory=factory)
    led = LED(20, pin_factory=factory)
    device.when_activated = led.on
    pin = factory.pin(5)
    times = []
    for _ in range(SWITCHES * EDGES_EACH):
        pin.drive_high()
        led.off()
        pin.clear_states()
        led.pin.clear_states()
        began = time.perf_counter()
        pin.drive_low()
        times.append(time.perf_counter() - began)
    return statistics.median(times)


def hopped() -> float:
    """Median seconds with gpiozero alone, the lamp switched by a thread that a queue wakes."""
    factory = MockFactory()
    device = DigitalInputDevice(5, pull_up=True, pin_factory=factory)
    led = LED(20, pin_factory=factory)
    queue: SimpleQueue[bool] = SimpleQueue()
    lit = threading.Semaphore(0)
    when = [0.0]
    device.when_activated = lambda: queue.put(True)

    def serve() -> None:
        while queue.get():
            led.on()
            when[0] = time.perf_counter()
            lit.release()

    thread = threading.Thread(target=serve)
    thread.start()
    pin = factory.pin(5)
    times = []
    for _ in range(SWITCHES * EDGES_EACH):
        pin.drive_high()
        led.off()
        pin.clear_states()
        led.pin.clear_states()
        moved = time.perf_counter()
        pin.drive_low()
        lit.acquire()
        times.append(when[0] - moved)
    queue.put(False)
    thread.join()
    return statistics.median(times)


def threaded() -> float:
    """Median seconds from a simulated contact to its lamp, through queue, thread and core."""
    stand = _Stand()
    board = stand.board
    lit = threading.Semaphore(0)
    when = [0.0]
    show = board.show

    def watched(of: str, output: str, shows: Shows) -> None:
        show(of, output, shows)
        if output == "red":
            when[0] = time.perf_counter()
            lit.release()

    began = threading.Event()
    engine = Engine(stand.layout, board, _Quiet(), begin=lambda core: began.set())
    board.watch(engine.put_reading)
    thread = threading.Thread(target=engine.run)
    thread.start()
    began.wait()
    time.sleep(0.2)  # Let the session's first outputs pass before the stop-watch looks.
    board.show = watched  # type: ignore[method-assign]  # the stop-watch sits at the lamp
    times = []
    for hasp, made in stand.moves():
        moved = time.perf_counter()
        stand.factory.hand(hasp, made)
        lit.acquire()
        times.append(when[0] - moved)
    engine.put(Stop())
    thread.join()
    board.close()
    return statistics.median(times)


def in_line() -> float:
    """Median seconds of the same work without the hop between threads."""
    stand = _Stand()
    core = Core(stand.layout)
    origin_us = time.monotonic_ns() // 1000 - 1

    def put(t_us: int, contact: str, made: bool | None) -> None:
        _show(stand.board, core.reading(t_us - origin_us, contact, made))
        _show(stand.board, core.advance(t_us - origin_us))

    stand.board.watch(put)
    times = []
    for hasp, made in stand.moves():
        moved = time.perf_counter()
        stand.factory.hand(hasp, made)
        times.append(time.perf_counter() - moved)
    stand.board.close()
    return statistics.median(times)


def _show(board: Board, entries: object) -> None:
    for entry in entries if isinstance(entries, list) else ():
        if isinstance(entry, OutputEntry):
            board.show(entry.of, entry.output, entry.shows)


def latency() -> Latency:
    """All four, in one run."""
    return Latency(threaded(), in_line(), bare(), hopped())
