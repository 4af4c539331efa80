"""Trains through a trap on simulated pins: what is stated, against how fast they truly ran."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from firmware_py.core.core import Core
from firmware_py.core.entries import SpeedEntry
from firmware_py.dynamics.scale_speed import model_mm_per_s
from firmware_py.dynamics.trapping import SPACING_MM, TIMING_S, reading_of_speed
from firmware_py.layout.reading import parse_layout
from firmware_py.pins.board import Board
from firmware_py.pins.mock import SimulatedFactory

SCALES = ("Z", "N", "TT", "HO", "S", "O")

LAYOUT = """
[layout]
name = "Fell Foot"
scale = "{scale}"
[times]
clear_after = 0.1
[[switch]]
id = "fell-switch"
lock = "none"
contacts = {{ normal = "auto", reverse = "auto", detector = "auto" }}
[[spur]]
id = "fell"
switch = "fell-switch"
contacts = {{ detector = "auto" }}
[[trap]]
id = "fell-trap"
first = "fell-switch.detector"
second = "fell.detector"
distance_mm = {distance}
"""

FIRST, SECOND = "fell-switch.detector", "fell.detector"


class Line:
    """One trap on simulated pins with a clock of our own; the core hears the pins' own ticks."""

    def __init__(self, scale: str, distance_mm: float) -> None:
        self.layout = parse_layout(LAYOUT.format(scale=scale, distance=distance_mm), "fell.toml")
        self.now_ns = 0
        self.factory = SimulatedFactory(clock_ns=lambda: self.now_ns)
        self.board = Board(self.layout, self.factory)
        self.core = Core(self.layout, dict.fromkeys((FIRST, SECOND), False))
        self.speeds: list[float] = []
        self.board.watch(self._heard)
        self.contacts = {contact.name: contact for contact in self.layout.contacts}

    def _heard(self, t_us: int, name: str, made: bool | None) -> None:
        self._take(self.core.reading(t_us, name, made))

    def _take(self, entries: object) -> None:
        assert isinstance(entries, list | tuple)
        self.speeds += [one.mph for one in entries if isinstance(one, SpeedEntry)]

    def edge(self, at_s: float, name: str, made: bool) -> None:
        """A train at a detector, as its pin tells it."""
        self.now_ns = round(at_s * 1e6) * 1000
        self.factory.hand(self.contacts[name], made)

    def wait(self, until_s: float) -> None:
        """Time goes on."""
        self.now_ns = round(until_s * 1e6) * 1000
        self._take(self.core.advance(round(until_s * 1e6)))

    def close(self) -> None:
        self.board.close()
        self.factory.close()


def passes(scale: str, count: int, seed: int) -> Iterator[tuple[float, float, float]]:
    """(true mph, stated mph, plus-minus): any direction, speed and trap of a usual length."""
    dice = Random(f"{scale} {seed}")
    done, clock = 0, 1.0
    while done < count:
        distance = dice.choice([51.0, 152.0, 305.0, 610.0])
        line = Line(scale, distance)
        for _ in range(min(50, count - done)):
            true = dice.uniform(2, 60)
            apart = distance + dice.uniform(-SPACING_MM, SPACING_MM)
            seconds = apart / model_mm_per_s(true, line.layout.ratio)
            if seconds > 55:
                true, seconds = true * seconds / 55, 55.0
            first, second = dice.choice([(FIRST, SECOND), (SECOND, FIRST)])
            clock += 0.1
            line.edge(clock + dice.uniform(-TIMING_S, TIMING_S), first, True)
            line.edge(clock + seconds + dice.uniform(-TIMING_S, TIMING_S), second, True)
            clock += seconds + 1
            line.wait(clock)
            line.edge(clock, first, False)
            line.edge(clock, second, False)
            clock += 1
            line.wait(clock)
            [mph] = line.speeds
            line.speeds.clear()
            said = reading_of_speed(distance, mph, line.layout.ratio)
            yield true, said.mph, said.plus_minus
            done += 1
        line.close()
