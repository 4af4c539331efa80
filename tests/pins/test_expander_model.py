"""The model against the data sheet, and the code's register map against the model."""

import inspect

import pytest
from expander_model import BANK, HAEN, IN_TURN, RESET, SEQOP, Expander, FakeSmbus, FakeStub
from smbus2 import SMBus

from firmware_py.pins.expanders import registers
from firmware_py.pins.expanders.registers import Config, Register

LINUX = {
    "IODIR": 0x00,
    "IPOL": 0x01,
    "GPINTEN": 0x02,
    "DEFVAL": 0x03,
    "INTCON": 0x04,
    "IOCON": 0x05,
    "GPPU": 0x06,
    "INTF": 0x07,
    "INTCAP": 0x08,
    "GPIO": 0x09,
    "OLAT": 0x0A,
}
"""``MCP_*`` of the Linux driver pinctrl-mcp23s08 (from memory), which shifts them by one bit."""


def test_after_power_on_all_lines_are_inputs_without_pull_ups() -> None:
    """Microchip DS20001952, as electronics.md B1 cites it: all inputs, no pull-ups."""
    chip = Expander(0x20)
    for address, name in IN_TURN.items():
        if name.startswith(("GPIO", "INTCAP")):
            continue
        expected = 0xFF if name.startswith("IODIR") else 0x00
        assert chip.read(address, 1) == [expected], name


def test_the_code_knows_the_same_reset_state() -> None:
    chip = Expander(0x20)
    for register, value in registers.RESET.items():
        low, high = chip.read(register, 2)
        assert high << 8 | low == value, register.name
    assert {register.name for register in registers.RESET} == {
        name.rstrip("AB") if name != "IOCON" else name for name in RESET
    }


def test_the_code_knows_the_addresses_that_the_kernel_knows() -> None:
    assert {register.name: register.value >> 1 for register in Register} == LINUX
    assert (Config.BANK, Config.SEQOP, Config.HAEN) == (BANK, SEQOP, HAEN)


@pytest.mark.parametrize("register", Register)
def test_a_pair_of_registers_is_both_ports_of_one(register: Register) -> None:
    low, high = IN_TURN[register], IN_TURN[register + 1]
    assert low.rstrip("A") == high.rstrip("B") == register.name


def test_writing_the_port_or_the_latch_is_the_same_and_reading_is_not() -> None:
    chip = Expander(0x20)
    chip.write(Register.GPIO, [0x0F])
    assert chip.read(Register.OLAT, 1) == [0x0F]
    chip.pull(0, True)
    assert chip.read(Register.GPIO, 1) == [0x01], "inputs show the outside, not the latch"
    chip.write(Register.IODIR, [0x00])
    assert chip.read(Register.GPIO, 1) == [0x0F]


def test_pull_ups_and_polarity() -> None:
    chip = Expander(0x20)
    assert chip.read(Register.GPIO, 1) == [0x00], "floating"
    chip.write(Register.GPPU, [0xFF])
    chip.pull(3, False)
    assert chip.read(Register.GPIO, 1) == [0xF7]
    chip.write(Register.IPOL, [0xFF])
    assert chip.read(Register.GPIO, 1) == [0x08]


def test_banks_move_the_registers_and_byte_mode_toggles_between_the_ports() -> None:
    chip = Expander(0x20)
    chip.write(Register.IOCON, [SEQOP])
    assert chip.read(Register.IODIR, 4) == [0xFF] * 4, "A, B, A, B"
    chip.write(Register.IOCON, [BANK])
    chip.write(0x10, [0x55])
    assert chip.registers["IODIRB"] == 0x55
    chip.write(registers.IOCON_IN_BANKS, [0])
    assert chip.read(Register.IODIR, 2) == [0xFF, 0x55]


def test_an_i2c_chip_has_no_address_enable() -> None:
    chip = Expander(0x20)
    chip.write(Register.IOCON, [0xFF & ~BANK])
    assert chip.registers["IOCON"] == 0x76


@pytest.mark.parametrize("fake", [FakeSmbus, FakeStub])
@pytest.mark.parametrize("call", ["read_word_data", "write_word_data", "write_byte_data", "close"])
def test_the_fakes_take_what_smbus2_takes(fake: type, call: str) -> None:
    real = [*inspect.signature(getattr(SMBus, call)).parameters.values()]
    ours = inspect.signature(getattr(fake, call)).parameters
    assert len(ours) == sum(one.default is inspect.Parameter.empty for one in real)
