"""The register map of the MCP23017 and the MCP23S17, and what a reset leaves in it.

Both ports are read and written together: a register's value here is 16 bits, port A the low byte,
port B the high one, so that bit 0 is GPA0 and bit 15 is GPB7. Source: Microchip DS20001952; the
addresses are those of the Linux driver ``pinctrl-mcp23s08`` too, shifted for a 16-bit chip.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum, IntFlag

BOTH_PORTS = 0xFFFF


class Register(IntEnum):
    """Port A's address of each pair, as they lie after a reset (IOCON.BANK = 0)."""

    IODIR = 0x00
    """Which lines are inputs."""
    IPOL = 0x02
    """Which inputs are read upside down."""
    GPINTEN = 0x04
    DEFVAL = 0x06
    INTCON = 0x08
    IOCON = 0x0A
    """The chip's own settings; one register, to be found at both addresses of the pair."""
    GPPU = 0x0C
    """Which inputs have their pull-up."""
    INTF = 0x0E
    INTCAP = 0x10
    GPIO = 0x12
    """The levels at the lines."""
    OLAT = 0x14
    """The levels that outputs are driven to."""


IOCON_IN_BANKS = 0x05
"""Where IOCON lies while IOCON.BANK is 1; with BANK = 0 it is GPINTENB, which is never used."""


class Config(IntFlag):
    """The bits of IOCON."""

    INTPOL = 0x02
    ODR = 0x04
    HAEN = 0x08
    DISSLW = 0x10
    SEQOP = 0x20
    MIRROR = 0x40
    BANK = 0x80


MARK = Config.ODR
"""Set in every chip's IOCON. A reset clears it, so its absence shows that there was one. It makes
the interrupt pins open drain: they are not used, and can't drive against anything so.
"""

RESET: Mapping[Register, int] = {
    register: BOTH_PORTS if register is Register.IODIR else 0
    for register in Register
    if register not in (Register.GPIO, Register.INTCAP)
}
"""What is in the registers after power-on: all lines inputs, all else zero. GPIO shows the lines,
and INTCAP is undefined.
"""


def twice(byte: int) -> int:
    """A byte for each of the two ports."""
    return byte << 8 | byte
