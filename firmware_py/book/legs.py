"""Where pins are: the places of the 40-pin header, the legs of expanders and drivers.

Header: Raspberry Pi documentation, GPIO on Raspberry Pi. MCP23017 and MCP23S17 in the 28-leg
package: Microchip DS20001952. ULN2803A in the 18-leg package: TI data sheet.
"""

from __future__ import annotations

from collections.abc import Mapping

from firmware_py.layout.electrics import Chip, ChipKind
from firmware_py.layout.model import ChipLine, HeaderPin, Pin

V3, V5, EARTH = "3.3 V", "5 V", "ground"

# fmt: off
HEADER: Mapping[int, str | int] = {
    1: V3, 2: V5, 3: 2, 4: V5, 5: 3, 6: EARTH, 7: 4, 8: 14, 9: EARTH, 10: 15,
    11: 17, 12: 18, 13: 27, 14: EARTH, 15: 22, 16: 23, 17: V3, 18: 24, 19: 10, 20: EARTH,
    21: 9, 22: 25, 23: 11, 24: 8, 25: EARTH, 26: 7, 27: 0, 28: 1, 29: 5, 30: EARTH,
    31: 6, 32: 12, 33: 13, 34: EARTH, 35: 19, 36: 16, 37: 26, 38: 20, 39: EARTH, 40: 21,
}
# fmt: on
"""What each place of the header is: a supply, ground, or a BCM number."""

PLACES: Mapping[int, int] = {what: at for at, what in HEADER.items() if isinstance(what, int)}
"""The place of each BCM number."""

I2C_WIRES: Mapping[int, str] = {2: "SDA", 3: "SCL"}
SPI_WIRES: Mapping[int, Mapping[int, str]] = {
    0: {7: "CE1", 8: "CE0", 9: "MISO", 10: "MOSI", 11: "SCLK"},
    1: {16: "CE2", 17: "CE1", 18: "CE0", 19: "MISO", 20: "MOSI", 21: "SCLK"},
}
"""BCM numbers of each SPI bus, by what they carry."""

DIP28, DIP18 = 28, 18

_BUS_LEGS = {
    ChipKind.MCP23017: {11: "NC", 12: "SCL", 13: "SDA", 14: "NC"},
    ChipKind.MCP23S17: {11: "CS", 12: "SCK", 13: "SI", 14: "SO"},
}
_COMMON_LEGS = {9: "VDD", 10: "VSS", 15: "A0", 16: "A1", 17: "A2", 18: "RESET"}
_INTERRUPT_LEGS = {19: "INTB", 20: "INTA"}


def line_name(line: int) -> str:
    """``GPA0`` to ``GPB7`` for the lines 0 to 15 of an expander."""
    return f"GP{'AB'[line // 8]}{line % 8}"


def line_leg(line: int) -> int:
    """The leg of an expander's line."""
    return 21 + line if line < 8 else line - 7


def chip_legs(kind: ChipKind) -> dict[int, str]:
    """What each of an expander's 28 legs is called."""
    lines = {line_leg(line): line_name(line) for line in range(16)}
    return {**lines, **_COMMON_LEGS, **_INTERRUPT_LEGS, **_BUS_LEGS[kind]}


def uln_legs() -> dict[int, str]:
    """What each of a ULN2803A's 18 legs is called."""
    inputs = {n: f"IN{n}" for n in range(1, 9)}
    outputs = {uln_out(n): f"OUT{n}" for n in range(1, 9)}
    return {**inputs, **outputs, 9: "GND", 10: "COM"}


def uln_out(channel: int) -> int:
    """The output's leg of a ULN2803A's channel, 1 to 8; its input's leg is the channel itself."""
    return 19 - channel


def place_of(pin: Pin, chips: Mapping[str, Chip]) -> str:
    """Where a pin is found with a finger: ``header pin 7``, ``leg 21, GPA0``."""
    match pin:
        case HeaderPin(bcm):
            return f"header pin {PLACES[bcm]}"
        case ChipLine(chip, line) if chip in chips and chips[chip].lines:
            return f"leg {line_leg(line)}, {line_name(line)}"
        case ChipLine(_, line):
            return f"line {line}"
        case _:
            raise ValueError("a wire without a pin has no place")


def bus_wires(chip: Chip) -> dict[int, str]:
    """What goes to each leg of an expander's bus, in words, from the header where that is known."""
    if chip.kind is ChipKind.MCP23017:
        known: Mapping[int, str] = I2C_WIRES if chip.bus == 1 else {}
        return {12: _from(known, "SCL", chip), 13: _from(known, "SDA", chip)}
    known = SPI_WIRES.get(chip.bus, {})
    return {
        11: _from(known, f"CE{chip.select}", chip),
        12: _from(known, "SCLK", chip),
        13: _from(known, "MOSI", chip),
        14: _from(known, "MISO", chip),
    }


def address_levels(chip: Chip) -> dict[int, str]:
    """What A0, A1 and A2 are tied to for the chip's address."""
    return {15 + bit: V3 if chip.address >> bit & 1 else EARTH for bit in range(3)}


def _from(known: Mapping[int, str], wanted: str, chip: Chip) -> str:
    for bcm, what in known.items():
        if what == wanted:
            return f"{wanted}: GPIO {bcm}, header pin {PLACES[bcm]}"
    bus = "I2C" if chip.kind is ChipKind.MCP23017 else "SPI"
    return f"{wanted} of {bus} bus {chip.bus}"
