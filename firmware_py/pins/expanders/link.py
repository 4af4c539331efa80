"""How the registers of one chip are reached, whichever the bus; and how buses are opened."""

from __future__ import annotations

import errno
from collections.abc import Callable
from typing import Protocol

from firmware_py.layout.electrics import Chip
from firmware_py.pins.expanders.registers import Register


class Link(Protocol):
    """The way to one chip's registers. Every call takes the bus and may raise ``OSError``."""

    @property
    def config(self) -> int:
        """What IOCON (one byte) is to be for this chip on this bus."""

    def read(self, register: Register) -> int:
        """Read a pair of registers, 16 bits, port A low."""

    def write(self, register: Register, value: int) -> None:
        """Write a pair of registers in one go."""

    def levels(self) -> int:
        """Read the levels of all 16 lines."""

    def configure(self) -> None:
        """Write IOCON so that it arrives in whatever state the chip is."""


class Bus(Protocol):
    """An open bus."""

    def link(self, chip: Chip) -> Link:
        """The way to one of the chips on it."""

    def close(self) -> None:
        """Give it back."""


Open = Callable[[Chip], Bus]
"""Opens the bus that a chip is on.

Errors: ``PinsError`` if it is not there, not allowed, or its Python package is missing.
"""


class ChipSilentError(OSError):
    """What came back can't have come from a chip that was set up."""

    def __init__(self, why: str) -> None:
        super().__init__(errno.EREMOTEIO, why)


CURES = {
    errno.EREMOTEIO: "nothing answers at its address",
    errno.ENXIO: "nothing answers at its address",
    errno.ETIMEDOUT: "the bus hangs; if it stays so, switch the chips' supply off and on",
    errno.EBUSY: "a kernel driver holds its address; take its dtoverlay out of config.txt",
}


def in_words(error: OSError) -> str:
    """Say what an error of the bus means."""
    if isinstance(error, ChipSilentError):
        return str(error.strerror)
    said = error.strerror or str(error)
    cure = CURES.get(error.errno or 0)
    return f"{cure} ({said})" if cure else said
