"""How chips, their lines and their buses are called where people read of them."""

from __future__ import annotations

import errno

from firmware_py.layout.electrics import Chip, ChipKind


def described(chip: Chip) -> str:
    """``chip stand-a (MCP23017 at 0x20)``."""
    return f"chip {chip.id} ({chip.kind.value.upper()} at 0x{chip.address:02x})"


def bus_name(chip: Chip) -> str:
    """``I2C bus 1``, ``SPI bus 0.1``."""
    if chip.kind is ChipKind.MCP23017:
        return f"I2C bus {chip.bus}"
    return f"SPI bus {chip.bus}.{chip.select}"


def line_name(line: int) -> str:
    """``GPA0`` to ``GPB7``, as the data sheet has them."""
    return f"GP{'AB'[line // 8]}{line % 8}"


def refusal(path: str, error: OSError, how_to_turn_on: str, group: str) -> str:
    """Say why a bus can't be opened, and what to do."""
    if error.errno in (errno.ENOENT, errno.ENXIO, errno.ENODEV):
        return f"{path} is not there; {how_to_turn_on}, then reboot"
    if error.errno in (errno.EACCES, errno.EPERM):
        return (
            f"this user may not use {path}; sudo adduser $USER {group}, then log out and in again"
        )
    return f"{path} can't be opened: {error.strerror or error}"
