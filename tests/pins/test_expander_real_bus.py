"""The exercises on a real Linux I2C bus, where there is one whose chips are i2c-stub's.

``modprobe i2c-dev i2c-stub chip_addr=0x20,0x21``, then set SPURLOCK_I2C_STUB to 1, or to the
adapter's path. No other bus is touched. The same goes for a stand-in of i2c-stub everywhere, so
that the exercises are known to fit it before a kernel has them.
"""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from expander_bench import StubBench
from expander_exercises import EXERCISES
from expander_model import FakeStub
from smbus2 import SMBus

from firmware_py.layout.electrics import Chip, ChipKind
from firmware_py.pins.expanders.factory import ExpanderFactory
from firmware_py.pins.expanders.registers import Register

ADDRESSES = (0x20,)
WANTED = os.environ.get("SPURLOCK_I2C_STUB", "")
real_bus = pytest.mark.skipif(
    not WANTED, reason="SPURLOCK_I2C_STUB is not set: no i2c-stub adapter to try this on"
)
by_name = pytest.mark.parametrize("exercise", EXERCISES, ids=lambda exercise: exercise.__name__)


def stub_path() -> Path:
    """The path of the stub's adapter; fails if there is none, or it is something else's."""
    found = {
        Path("/dev") / entry.name: (entry / "name").read_text().strip()
        for entry in Path("/sys/bus/i2c/devices").glob("i2c-*")
    }
    stubs = [path for path, name in sorted(found.items()) if "stub" in name.lower()]
    if WANTED.startswith("/"):
        assert Path(WANTED) in stubs, f"{WANTED} is no i2c-stub adapter; there are {found}"
        return Path(WANTED)
    assert stubs, f"no i2c-stub adapter; there are {found}"
    return stubs[0]


@pytest.fixture
def bus() -> Iterator[Any]:
    with SMBus(str(stub_path())) as bus:
        yield bus


@real_bus
@by_name
def test_on_a_real_linux_bus(exercise: Callable[[StubBench], None], bus: SMBus) -> None:
    exercise(StubBench(bus, ADDRESSES))


@real_bus
def test_the_factory_opens_the_bus_by_its_number_and_scans_in_its_thread(bus: SMBus) -> None:
    number = int(stub_path().name.removeprefix("i2c-"))
    StubBench(bus, ADDRESSES).pull(0, 5, False)
    factory = ExpanderFactory([Chip("io-0", ChipKind.MCP23017, ADDRESSES[0], number)])
    factory.claim_inputs(["io-0:4", "io-0:5"])
    assert [factory.pin(f"io-0:{line}").state for line in (4, 5)] == [True, False]
    assert bus.read_word_data(ADDRESSES[0], Register.GPPU) == 0xFFFF
    assert factory.alive
    assert factory.troubles() == ()
    factory.close()


@by_name
def test_on_a_stand_in_for_the_stub(exercise: Callable[[StubBench], None]) -> None:
    exercise(StubBench(FakeStub(), ADDRESSES))
