"""Which bus a chip is on, and opening it."""

from __future__ import annotations

from firmware_py.layout.electrics import Chip, ChipKind
from firmware_py.pins.expanders.i2c import I2cBus
from firmware_py.pins.expanders.link import Bus
from firmware_py.pins.expanders.spi import SpiBus

EXPANDERS = (ChipKind.MCP23017, ChipKind.MCP23S17)
"""The kinds that are scanned here; the kernel's are left to the kernel."""


def open_bus(chip: Chip) -> Bus:
    """Open the bus of a chip. ``PinsError`` if that can't be done, with what to do."""
    return I2cBus(chip) if chip.kind is ChipKind.MCP23017 else SpiBus(chip)


def bus_key(chip: Chip) -> tuple[ChipKind, int, int]:
    """Equal for chips that share a bus and so a scan."""
    return chip.kind, chip.bus, chip.select
