"""Where pins are, against gpiozero's own description of the boards and the data sheets."""

from __future__ import annotations

import re

import pytest
from gpiozero.pins.pi import PiBoardInfo

from firmware_py.book.dip import expander_svg
from firmware_py.book.legs import HEADER, address_levels, bus_wires, chip_legs, line_leg, uln_legs
from firmware_py.layout.electrics import Chip, ChipKind


@pytest.mark.parametrize("revision", [0xA02082, 0xC03111, 0xD04170, 0x902120])
def test_the_header_is_as_gpiozero_describes_a_pi_3_4_5_and_zero_2(revision: int) -> None:
    pins = PiBoardInfo.from_revision(revision).headers["J8"].pins
    names = {"GND": "ground", "3V3": "3.3 V", "5V": "5 V"}
    for place, what in HEADER.items():
        theirs = pins[place].name
        assert names.get(theirs, theirs) == (what if isinstance(what, str) else f"GPIO{what}")


def test_an_expanders_legs_are_those_of_the_data_sheet() -> None:
    # Microchip DS20001952, pinout of the 28-leg SPDIP; read from memory.
    legs = chip_legs(ChipKind.MCP23S17)
    assert [legs[n] for n in range(1, 9)] == [f"GPB{n}" for n in range(8)]
    assert [legs[n] for n in range(21, 29)] == [f"GPA{n}" for n in range(8)]
    assert [legs[n] for n in range(9, 21)] == (
        ["VDD", "VSS", "CS", "SCK", "SI", "SO", "A0", "A1", "A2", "RESET", "INTB", "INTA"]
    )
    i2c = chip_legs(ChipKind.MCP23017)
    assert [i2c[n] for n in (11, 12, 13, 14)] == ["NC", "SCL", "SDA", "NC"]
    assert [line_leg(line) for line in (0, 7, 8, 15)] == [21, 28, 1, 8]


def test_a_uln2803as_legs_are_those_of_the_data_sheet() -> None:
    # TI ULN2803A: inputs 1 to 8, GND 9, COM 10, outputs 8 to 1 on 11 to 18; read from memory.
    legs = uln_legs()
    assert sorted(legs) == list(range(1, 19))
    assert (legs[1], legs[8], legs[9], legs[10], legs[11], legs[18]) == (
        "IN1",
        "IN8",
        "GND",
        "COM",
        "OUT8",
        "OUT1",
    )


def test_an_address_is_three_levels() -> None:
    chip = Chip("io", ChipKind.MCP23017, 0x26, 1)
    assert address_levels(chip) == {15: "ground", 16: "3.3 V", 17: "3.3 V"}


@pytest.mark.parametrize(
    ("chip", "legs"),
    [
        (Chip("a", ChipKind.MCP23017, 0x20, 1), {12: "SCL: GPIO 3, header pin 5"}),
        (Chip("a", ChipKind.MCP23017, 0x20, 3), {13: "SDA of I2C bus 3"}),
        (Chip("a", ChipKind.MCP23S17, 0x20, 0, 1), {11: "CE1: GPIO 7, header pin 26"}),
        (Chip("a", ChipKind.MCP23S17, 0x20, 1, 2), {11: "CE2: GPIO 16, header pin 36"}),
        (Chip("a", ChipKind.MCP23S17, 0x20, 5, 0), {14: "MISO of SPI bus 5"}),
    ],
)
def test_a_bus_is_followed_to_the_header(chip: Chip, legs: dict[int, str]) -> None:
    assert bus_wires(chip).items() >= legs.items()


def test_an_expander_says_free_at_every_line_that_has_no_wire() -> None:
    drawn = expander_svg(Chip("a", ChipKind.MCP23S17, 0x20), ())
    assert len(re.findall(">free<", drawn)) == 16 + 2
