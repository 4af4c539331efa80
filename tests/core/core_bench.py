"""Layouts for the tests of the core, and a bench on which to try it by hand."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from random import Random

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.core.names import Command
from firmware_py.core.orders import Order
from firmware_py.layout.model import Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.tape.lines import line_of
from tests.oracle.layouts_at_random import layout_as_toml, layout_at_random

RICH = Path(__file__).with_name("rich.toml")

SECOND = 1_000_000


@cache
def rich_layout() -> Layout:
    """Every kind of thing with everything fitted; see ``rich.toml``."""
    return parse_layout(RICH.read_text(), RICH.name)


@cache
def random_layout(seed: int) -> Layout:
    """A sound layout, always the same one for a seed."""
    return parse_layout(layout_as_toml(layout_at_random(Random(seed))), f"seed-{seed}.toml")


def short(entry: Entry) -> str:
    """An entry on one line, without its time: ``violation 1 left-foul marl marl``."""
    line = line_of(entry)
    del line["t"]
    words: list[str] = []
    for value in line.values():
        if isinstance(value, list):
            words += [str(item) for item in value]
        else:
            words.append("-" if value is None else str(value))
    return " ".join(words)


class Bench:
    """A core with a hand on the clock: times are seconds, answers are short lines.

    Answers leave out what outputs show unless ``outputs`` is set.
    """

    def __init__(
        self,
        layout: Layout,
        standing: dict[str, bool | None] | None = None,
        *,
        outputs: bool = False,
        notes: bool = False,
    ) -> None:
        self.core = Core(layout, standing or {}, notes=notes)
        self.outputs = outputs

    def read(self, seconds: float, contact: str, made: bool | None) -> list[str]:
        """A raw edge."""
        return self._short(self.core.reading(_us(seconds), contact, made))

    def wait(self, seconds: float) -> list[str]:
        """Time passes until then."""
        return self._short(self.core.advance(_us(seconds)))

    def settle(self, seconds: float, contact: str, made: bool) -> list[str]:
        """A raw edge, and 0.6 s for it to settle."""
        return self.read(seconds, contact, made) + self.wait(seconds + 0.6)

    def say(self, seconds: float, command: str, spur: str, cars: int | None = None) -> list[str]:
        """An order for a spur."""
        order = Order(Command(command), spur=spur, cars=cars)
        return self._short(self.core.order(_us(seconds), order))

    def acknowledge(self, seconds: float, number: int | None) -> list[str]:
        """An acknowledgement."""
        order = Order(Command.ACKNOWLEDGE, violation=number)
        return self._short(self.core.order(_us(seconds), order))

    def shows(self, of: str, output: str) -> str:
        """What an output shows now."""
        return self.core.outputs()[of, output].value

    def _short(self, entries: object) -> list[str]:
        assert isinstance(entries, list | tuple)
        lines = [short(entry) for entry in entries]
        return [line for line in lines if self.outputs or not line.startswith("output ")]


def _us(seconds: float) -> int:
    return round(seconds * SECOND)
