"""MCP23S17 chips on an SPI bus, through the kernel's ``/dev/spidevB.S`` and ``spidev``.

``spidev`` is needed for these chips only and has to be compiled where it is installed.
"""

from __future__ import annotations

from importlib import import_module
from typing import Protocol, cast

from firmware_py.layout.electrics import FIRST_ADDRESS, Chip
from firmware_py.pins.expanders.link import ChipSilentError
from firmware_py.pins.expanders.naming import described, refusal
from firmware_py.pins.expanders.registers import IOCON_IN_BANKS, MARK, Config, Register
from firmware_py.pins.wiring import PinsError

CLOCK_HZ = 1_000_000
"""A tenth of what the chip bears, for wires instead of a board; a reading takes 0.1 ms so."""

WRITE, READ = 0x40, 0x41
DEAF = (0, 4)
"""The addresses that a chip may listen to after a reset: until HAEN is set, 0 whatever its pins
say, and from memory some revisions heed A2 all the same.
"""

SCANNED = range(Register.IOCON, Register.GPIO + 2)


class Device(Protocol):
    """What is used of ``spidev.SpiDev``."""

    mode: int
    max_speed_hz: int

    def open(self, bus: int, device: int) -> None:
        """Open ``/dev/spidev<bus>.<device>``."""

    def xfer2(self, values: list[int]) -> list[int]:
        """Shift bytes out and in, the chip-select held low all the while."""

    def close(self) -> None:
        """Close it."""


class SpiLink:
    """One chip; each call is one transfer. Nothing acknowledges on SPI, so IOCON is read along."""

    __slots__ = ("_device", "_place", "config")

    def __init__(self, device: Device, address: int) -> None:
        self._device = device
        self._place = address - FIRST_ADDRESS
        self.config = int(MARK | Config.HAEN)

    def read(self, register: Register) -> int:
        """Read a pair of registers."""
        low, high = self._get(range(register, register + 2))
        return high << 8 | low

    def write(self, register: Register, value: int) -> None:
        """Write a pair of registers."""
        self._put(self._place, register, value & 0xFF, value >> 8)

    def levels(self) -> int:
        """Read the lines, and IOCON along with them: ``ChipSilentError`` if that is not ours."""
        got = self._get(SCANNED)
        if got[:2] != [self.config, self.config]:
            raise ChipSilentError("nothing answers on its chip-select, or it was reset")
        return got[-1] << 8 | got[-2]

    def configure(self) -> None:
        """Write IOCON, whether the chip listens to its own address yet or not."""
        for place in (*DEAF, self._place):
            self._put(place, IOCON_IN_BANKS, 0)
            self._put(place, Register.IOCON, self.config, self.config)

    def _get(self, span: range) -> list[int]:
        return self._device.xfer2([READ | self._place << 1, span.start] + [0] * len(span))[2:]

    def _put(self, place: int, first: int, *values: int) -> None:
        self._device.xfer2([WRITE | place << 1, first, *values])


class SpiBus:
    """``/dev/spidevB.S``, open. ``PinsError`` if it can't be opened or ``spidev`` is missing."""

    def __init__(self, chip: Chip) -> None:
        path = f"/dev/spidev{chip.bus}.{chip.select}"
        try:
            self._device = cast(Device, import_module("spidev").SpiDev())
        except ImportError as error:
            raise PinsError(
                f"{described(chip)}: SPI needs the Python package spidev, which is not installed; "
                "install python3-dev and gcc with apt, then spurlock[spi] with pip"
            ) from error
        try:
            self._device.open(chip.bus, chip.select)
            self._device.mode = 0
            self._device.max_speed_hz = CLOCK_HZ
        except OSError as error:
            on = "turn SPI on: sudo raspi-config, Interface Options, SPI (or dtparam=spi=on)"
            raise PinsError(f"{described(chip)}: {refusal(path, error, on, 'spi')}") from error

    def link(self, chip: Chip) -> SpiLink:
        """The way to one of the chips on it."""
        return SpiLink(self._device, chip.address)

    def close(self) -> None:
        """Give it back."""
        self._device.close()
