"""A bench to try expanders on: a factory with its buses and chips, on a clock that stands still.

``Bench`` has modelled chips; ``StubBench`` has the words of an ``i2c-stub``, real or not, where a
line's level is what was last put into the word of GPIO.
"""

import time
from collections.abc import Callable, Iterable
from typing import Any

from expander_model import Expander, FakeSmbus, FakeSpidev, FakeStub, Wires
from gpiozero import LED, DigitalInputDevice
from smbus2 import SMBus

from firmware_py.layout.electrics import Chip, ChipKind
from firmware_py.pins.expanders.factory import ExpanderFactory
from firmware_py.pins.expanders.i2c import I2cLink
from firmware_py.pins.expanders.link import Bus, Link
from firmware_py.pins.expanders.registers import RESET, Register
from firmware_py.pins.expanders.spi import CLOCK_HZ, SpiLink

MS = 1_000_000
BEGAN_NS = 7_000_000_000_000
LONG_S = 20


def until(condition: Callable[[], bool]) -> None:
    """Wait for something that a thread does."""
    deadline = time.monotonic() + LONG_S
    while not condition():
        assert time.monotonic() < deadline, "it never came about"
        time.sleep(0.005)


class Clock:
    def __init__(self) -> None:
        self.now_ns = BEGAN_NS

    def __call__(self) -> int:
        return self.now_ns


class FakeBus:
    """A bus as the scanner wants it, over a fake of smbus2's or spidev's."""

    def __init__(self, wires: Wires, spi: bool) -> None:
        self._device: Any = FakeSpidev(wires) if spi else FakeSmbus(wires)
        self._spi = spi
        if spi:
            self._device.open(0, 0)
            self._device.mode, self._device.max_speed_hz = 0, CLOCK_HZ

    def link(self, chip: Chip) -> Link:
        kind: Any = SpiLink if self._spi else I2cLink
        link: Link = kind(self._device, chip.address)
        return link

    def close(self) -> None:
        self._device.close()


def chips_of(count: int, kind: ChipKind = ChipKind.MCP23017) -> tuple[Chip, ...]:
    """``io-0``, ``io-1`` and so on, at 0x20 and on."""
    bus = 1 if kind is ChipKind.MCP23017 else 0
    return tuple(Chip(f"io-{place}", kind, 0x20 + place, bus) for place in range(count))


class Watch:
    """A contact's device and what its watcher is told: (microseconds since the start, level)."""

    def __init__(self, factory: ExpanderFactory, name: str) -> None:
        self.device = DigitalInputDevice(name, pull_up=True, pin_factory=factory)
        self.told: list[tuple[int, bool | None]] = []
        self.device.pin.when_changed = self._changed

    @property
    def level(self) -> bool | None:
        level: bool | None = self.device.pin.state
        return level

    @property
    def levels(self) -> list[bool | None]:
        return [level for _, level in self.told]

    def _changed(self, ticks: int, level: bool | None) -> None:
        self.told.append(((ticks - BEGAN_NS) // 1_000, level))


class AnyBench:
    """What the exercises use. ``step`` passes 5 ms and scans."""

    factory: ExpanderFactory
    clock: Clock

    def watch(self, *names: str) -> list[Watch]:
        self.factory.claim_inputs(names)
        return [Watch(self.factory, name) for name in names]

    def led(self, name: str, lit: bool = False) -> LED:
        return LED(name, initial_value=lit, pin_factory=self.factory)

    def step(self, times: int = 1, ms: int = 5) -> None:
        for _ in range(times):
            self.clock.now_ns += ms * MS
            self.factory.step()

    def said(self) -> list[tuple[str, bool]]:
        return [(f"{t.at} {t.why}", t.standing) for t in self.factory.troubles()]


class Bench(AnyBench):
    """Modelled chips on one bus."""

    def __init__(self, count: int = 1, kind: ChipKind = ChipKind.MCP23017) -> None:
        self.clock = Clock()
        spi = kind is ChipKind.MCP23S17
        self.chips = [Expander(0x20 + place, spi) for place in range(count)]
        self.wires = Wires(*self.chips)

        def open_bus(chip: Chip) -> Bus:
            return FakeBus(self.wires, spi)

        self.factory = ExpanderFactory(chips_of(count, kind), open_bus, self.clock, threaded=False)

    def pull(self, chip: int, line: int, level: bool) -> None:
        self.chips[chip].pull(line, level)

    def word(self, chip: int, register: Register) -> int:
        low, high = self.chips[chip].read(register, 2)
        return high << 8 | low

    def put(self, chip: int, register: Register, word: int) -> None:
        self.chips[chip].write(register, [word & 0xFF, word >> 8])

    def brown_out(self, chip: int) -> None:
        self.chips[chip].reset()


class StubBench(AnyBench):
    """The words of an ``i2c-stub`` at 0x20 and on."""

    def __init__(self, bus: SMBus | FakeStub, addresses: Iterable[int]) -> None:
        self.clock = Clock()
        self._bus = bus
        self.addresses = tuple(addresses)
        for chip in range(len(self.addresses)):
            self.brown_out(chip)
            bus.write_word_data(self.addresses[chip], Register.GPIO, 0xFFFF)
        chips = [
            Chip(f"io-{place}", ChipKind.MCP23017, address, 1)
            for place, address in enumerate(self.addresses)
        ]

        class Open:
            def link(self, chip: Chip) -> Link:
                return I2cLink(bus, chip.address)

            def close(self) -> None:
                """The bench's, not ours."""

        self.factory = ExpanderFactory(chips, lambda chip: Open(), self.clock, threaded=False)

    def pull(self, chip: int, line: int, level: bool) -> None:
        word = self.word(chip, Register.GPIO)
        word = word | 1 << line if level else word & ~(1 << line)
        self._bus.write_word_data(self.addresses[chip], Register.GPIO, word)

    def word(self, chip: int, register: Register) -> int:
        word: int = self._bus.read_word_data(self.addresses[chip], register)
        return word

    def put(self, chip: int, register: Register, word: int) -> None:
        self._bus.write_word_data(self.addresses[chip], register, word)

    def brown_out(self, chip: int) -> None:
        for register, value in RESET.items():
            self._bus.write_word_data(self.addresses[chip], register, value)
