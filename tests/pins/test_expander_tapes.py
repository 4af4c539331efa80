"""The sample tapes through the whole engine: on modelled expanders as on simulated pins.

Hands, clock and queue are the tests' own, so that minutes play at once; what lies between the
chips' lines and the engine's entries is real, and so is what lies between entries and lamps.
"""

from __future__ import annotations

import json
import re
from collections import deque
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from queue import Empty
from typing import Any

import pytest
from expander_bench import FakeBus
from expander_model import Expander, Wires
from pytest_mock import MockerFixture

from firmware_py.core.core import Core
from firmware_py.core.entries import Entry
from firmware_py.core.names import Command, Shows
from firmware_py.core.orders import Order
from firmware_py.engine.engine import Engine
from firmware_py.engine.ports import Given, Item, Stop
from firmware_py.layout.model import MADE_AT_REST, ChipLine, Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.pins.board import Board
from firmware_py.pins.expanders.factory import ExpanderFactory
from firmware_py.pins.mock import SimulatedFactory
from firmware_py.tape.lines import line_of

TAPES = Path(__file__).parents[1] / "tapes"
BEGAN_US = 7_000_000_000
LAMPS = """
lamps = { green = "stand-a:7", red = "stand-b:7", white = "stand-b:15" }
"""
CHIPS = """
[[chip]]
id = "stand-a"
kind = "mcp23017"
address = 0x20
[[chip]]
id = "stand-b"
kind = "mcp23017"
address = 0x21
"""
"""Unlike the tapes' own layout this one has lamps, and every wire is on an expander."""


def on_expanders() -> Layout:
    text = (TAPES / "quarry-landing.toml").read_text()
    lines = iter(
        [f"{chip}:{line}" for line in (0, 9, 2, 11, 4, 13, 6) for chip in ("stand-a", "stand-b")]
    )
    text = "\n".join(
        re.sub(r"= (\d+)", lambda _: f'= "{next(lines)}"', line) if "contacts" in line else line
        for line in text.splitlines()
    )
    text = text.replace('key = "kiln-key"', f'key = "kiln-key"{LAMPS}', 1)
    text = text.replace(
        'spur = "kiln"\ncontacts = { rack',
        'spur = "kiln"\nlamp = "stand-a:15"\ncontacts = { rack',
        1,
    )
    return parse_layout(text + CHIPS, "quarry.toml")


class Clock:
    def __init__(self) -> None:
        self.now_us = BEGAN_US

    def __call__(self) -> int:
        return self.now_us

    def ns(self) -> int:
        return self.now_us * 1_000


class Script:
    """The engine's queue: waiting moves the clock, and what is due on the way is done."""

    def __init__(self, clock: Clock, idle: Callable[[], None]) -> None:
        self._clock = clock
        self._idle = idle
        self._put: deque[Item] = deque()
        self.cues: deque[tuple[int, Callable[[], None]]] = deque()

    def put(self, item: Item) -> None:
        self._put.append(item)

    def qsize(self) -> int:
        return len(self._put)

    def get(self, block: bool = True, timeout: float | None = None) -> Item:
        wait_us = 0 if not block else 10**12 if timeout is None else max(1, round(timeout * 1e6))
        until = self._clock.now_us + wait_us
        self._idle()
        while not self._put and self.cues and self.cues[0][0] <= until:
            at_us, do = self.cues.popleft()
            self._clock.now_us = max(self._clock.now_us, at_us)
            do()
        if self._put:
            return self._put.popleft()
        self._clock.now_us = until
        if block and timeout is None:
            return Stop()
        raise Empty


class Diary:
    def __init__(self) -> None:
        self.lines: list[dict[str, Any]] = []
        self.remarks: list[str] = []

    def entry(self, entry: Entry, wall_us: int) -> None:
        self.lines.append(line_of(entry))

    def remark(self, text: str, t_us: int | None = None) -> None:
        self.remarks.append(text)

    def together(self) -> AbstractContextManager[None]:
        return nullcontext()

    def __getattr__(self, name: str) -> Callable[..., None]:
        return lambda *args, **more: None


class Simulated:
    """Simulated pins, moved by hand."""

    def __init__(self, layout: Layout, clock: Clock) -> None:
        self.factory = SimulatedFactory(clock.ns)
        self.contacts = {contact.name: contact for contact in layout.contacts}

    def hand(self, contact: str, made: bool | None) -> None:
        self.factory.hand(self.contacts[contact], made)

    def settle(self) -> None:
        """They follow at once."""

    def lit(self, pin: ChipLine) -> bool:
        return bool(self.factory.pin(f"{pin.chip}:{pin.line}").state)


class Modelled:
    """Modelled chips; a contact that is made pulls its line to ground, unless it is inverted."""

    def __init__(self, layout: Layout, clock: Clock) -> None:
        self.chips = {chip.id: Expander(chip.address) for chip in layout.chips}
        wires = Wires(*self.chips.values())
        self.factory = ExpanderFactory(
            layout.chips, lambda chip: FakeBus(wires, spi=False), clock.ns, threaded=False
        )
        self.contacts = {contact.name: contact for contact in layout.contacts}

    def hand(self, contact: str, made: bool | None) -> None:
        which = self.contacts[contact]
        assert isinstance(which.pin, ChipLine)
        assert made is not None, "the tapes lose no contact of these"
        self.chips[which.pin.chip].pull(which.pin.line, made is which.inverted)
        self.factory.step()

    def settle(self) -> None:
        self.factory.step()

    def lit(self, pin: ChipLine) -> bool:
        return bool(self.chips[pin.chip].lit(pin.line))


def play(
    tape: Path, kind: type[Simulated] | type[Modelled], mocker: MockerFixture
) -> tuple[list[dict[str, Any]], list[tuple[int, dict[str, bool]]]]:
    """Play a tape: the entries, and which steady lamps were lit whenever the engine waited."""
    layout, clock, diary = on_expanders(), Clock(), Diary()
    bench = kind(layout, clock)
    for contact in layout.contacts:
        bench.hand(contact.name, contact.role in MADE_AT_REST)
    lines = [json.loads(line) for line in tape.read_text().splitlines()]
    for line in lines:
        if line["t"] == 0:
            bench.hand(line["contact"], line["made"])
    board = Board(layout, bench.factory, clock.ns)
    seen: list[tuple[int, dict[str, bool]]] = []

    def look() -> None:
        bench.settle()
        steady = {key: shows for key, shows in board.shown().items() if shows is not Shows.FLASHING}
        lit = {".".join(key): bench.lit(wires[key]) for key in steady}
        for key, shows in steady.items():
            assert lit[".".join(key)] is (shows is Shows.STEADY), key
        seen.append((clock.now_us, lit))

    wires = {
        ("kiln-switch", "green"): ChipLine("stand-a", 7),
        ("kiln-switch", "red"): ChipLine("stand-b", 7),
        ("kiln-switch", "white"): ChipLine("stand-b", 15),
        ("kiln-flag", "lamp"): ChipLine("stand-a", 15),
    }
    assert set(board.outputs) == set(wires)
    script = Script(clock, look)
    mocker.patch("firmware_py.engine.engine.SimpleQueue", return_value=script)

    def begin(core: Core) -> None:
        for line in lines:
            if line["t"] > 0:
                at_us = clock.now_us + round(line["t"] * 1e6)
                script.cues.append((at_us, lambda line=line: do(line)))

    def do(line: dict[str, Any]) -> None:
        if "contact" in line:
            bench.hand(line["contact"], line["made"])
        elif "command" in line:
            about = (line.get("spur"), line.get("violation"), line.get("cars"))
            script.put(Given(Order(Command(line["command"]), *about)))
        else:
            script.put(Stop())

    engine = Engine(layout, board, diary, begin=begin, clock_us=clock, wall_us=lambda: 1)
    board.watch(engine.put_reading)
    engine.run()
    assert board.troubles() == ()
    board.close()
    bench.settle()
    assert bench.lit(wires["kiln-switch", "red"]), "red stays lit when all is closed"
    bench.factory.close()
    return diary.lines, seen


@pytest.fixture(params=sorted(TAPES.glob("*.jsonl")), ids=lambda path: path.stem)
def tape(request: pytest.FixtureRequest) -> Path:
    path: Path = request.param
    return path


def test_expanders_give_the_entries_and_lamps_of_simulated_pins(
    tape: Path, mocker: MockerFixture
) -> None:
    simulated, shown = play(tape, Simulated, mocker)
    modelled, lit = play(tape, Modelled, mocker)
    assert modelled == simulated
    assert lit == shown
    expected = [
        json.loads(line) for line in (TAPES / "expected" / tape.name).read_text().splitlines()
    ]
    assert [line for line in modelled if line["what"] != "output"] == expected
    assert any(line["what"] == "output" for line in modelled)
