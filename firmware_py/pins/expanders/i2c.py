"""MCP23017 chips on an I2C bus, through the kernel's ``/dev/i2c-N`` and ``smbus2``."""

from __future__ import annotations

from smbus2 import SMBus

from firmware_py.layout.electrics import Chip
from firmware_py.pins.expanders.naming import described, refusal
from firmware_py.pins.expanders.registers import IOCON_IN_BANKS, MARK, Register, twice
from firmware_py.pins.wiring import PinsError


class I2cLink:
    """One chip; each call is one transaction."""

    __slots__ = ("_address", "_bus", "config")

    def __init__(self, bus: SMBus, address: int) -> None:
        self._bus = bus
        self._address = address
        self.config = int(MARK)

    def read(self, register: Register) -> int:
        """Read a pair of registers."""
        return self._bus.read_word_data(self._address, register)

    def write(self, register: Register, value: int) -> None:
        """Write a pair of registers."""
        self._bus.write_word_data(self._address, register, value)

    def levels(self) -> int:
        """Read the lines. A chip that is gone does not acknowledge, which is an ``OSError``."""
        return self._bus.read_word_data(self._address, Register.GPIO)

    def configure(self) -> None:
        """Write IOCON, from either arrangement of the registers."""
        self._bus.write_byte_data(self._address, IOCON_IN_BANKS, 0)
        self.write(Register.IOCON, twice(self.config))


class I2cBus:
    """``/dev/i2c-N``, open. ``PinsError`` if it can't be opened."""

    def __init__(self, chip: Chip) -> None:
        path = f"/dev/i2c-{chip.bus}"
        try:
            self._bus = SMBus(path)
        except OSError as error:
            on = "turn I2C on: sudo raspi-config, Interface Options, I2C (or dtparam=i2c_arm=on)"
            raise PinsError(f"{described(chip)}: {refusal(path, error, on, 'i2c')}") from error

    def link(self, chip: Chip) -> I2cLink:
        """The way to one of the chips on it."""
        return I2cLink(self._bus, chip.address)

    def close(self) -> None:
        """Give it back."""
        self._bus.close()
