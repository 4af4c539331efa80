"""An engine whose contacts and lamps are on expanders, on a real ``/dev/i2c-N``.

The kernel's ``i2c-stub`` has the registers of the chips; what is put into GPIO is what the lines
are at, and OLAT is what the lamps are.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from smbus2 import SMBus

from firmware_py.pins.expanders.registers import RESET, Register
from kernel.inside.guarding import Guarding, until

ADDRESSES = (0x20, 0x21)


def stub_number() -> int:
    """The number of the adapter that the kernel pretends."""
    for folder in Path("/sys/bus/i2c/devices").glob("i2c-*"):
        if "stub" in (folder / "name").read_text().lower():
            return int(folder.name.removeprefix("i2c-"))
    raise AssertionError("no i2c-stub adapter here")


class StubChip:
    """One chip's registers; a contact to ground pulls its bit of GPIO low."""

    def __init__(self, bus: SMBus, address: int) -> None:
        self._bus = bus
        self._address = address
        for register, value in RESET.items():
            bus.write_word_data(address, register, value)
        bus.write_word_data(address, Register.GPIO, 0xFFFF)

    def hold(self, line: int, closed: bool) -> None:
        word = self._bus.read_word_data(self._address, Register.GPIO)
        word = word & ~(1 << line) if closed else word | 1 << line
        self._bus.write_word_data(self._address, Register.GPIO, word)

    def value(self, line: int) -> bool:
        """Whether an output is latched high, and driven at all."""
        driven = not self._bus.read_word_data(self._address, Register.IODIR) >> line & 1
        return driven and bool(self._bus.read_word_data(self._address, Register.OLAT) >> line & 1)


def layout(bus: int) -> str:
    text = ""
    for n, address in enumerate(ADDRESSES):
        text += f'[[chip]]\nid = "io-{n}"\nkind = "mcp23017"\naddress = {address}\nbus = {bus}\n'
        text += f'[[switch]]\nid = "s{n}"\n'
        text += f'contacts = {{ hasp = "io-{n}:0", normal = "io-{n}:8", reverse = "io-{n}:14" }}\n'
        text += f'lamps = {{ green = "io-{n}:7", red = "io-{n}:15" }}\n'
    return text


@pytest.fixture
def chips() -> Iterator[dict[str, StubChip]]:
    with SMBus(stub_number()) as bus:
        yield {f"io-{n}": StubChip(bus, address) for n, address in enumerate(ADDRESSES)}


def test_an_engine_on_expanders(tmp_path: Path, chips: dict[str, StubChip]) -> None:
    guarding = Guarding(tmp_path, layout(stub_number()), chips)
    guarding.rest(guarding.at_rest)
    with guarding:
        for n, chip in enumerate(chips.values()):
            until(lambda c=chip: c.value(7) and not c.value(15), f"s{n} is not green")
        for n, chip in enumerate(chips.values()):
            guarding.move(f"s{n}.hasp", False)
            guarding.settles(f"s{n}.hasp", False)
            until(lambda c=chip: c.value(15) and not c.value(7), f"s{n} is not red")
            for contact, made in (("normal", False), ("reverse", True)):
                guarding.move(f"s{n}.{contact}", made)
                guarding.settles(f"s{n}.{contact}", made)
        stages = [
            (x.line["switch"], x.line["stage"]) for x in guarding.entries() if x.what == "stage"
        ]
        assert stages == [(f"s{n}", stage) for n in range(2) for stage in ("unlocked", "lined")]
        logged, replayed = guarding.replayed()
        assert replayed == logged
