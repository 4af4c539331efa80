"""What the Pi's 40-pin header and its pads can do, each with its source.

Pin numbers are BCM numbers. Sources: Raspberry Pi's documentation ("Power-on states", GPIO pads
control, GPIO on Raspberry Pi, power supplies) unless said otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

from firmware_py.layout.electrics import I2C_PINS, SERIAL_PINS, SPI_PINS, PiModel

USABLE = range(2, 28)
"""0 and 1 are reserved for the EEPROM of add-on boards."""

PULLED_UP_AT_BOOT = range(9)
PULLED_DOWN_AT_BOOT = range(9, 28)
"""From power-on until the service runs. On a Pi 5 taken to be the same (from memory)."""

NEVER_PLANNED = I2C_PINS
"""They have fixed pull-ups of 1.8 kilohms, are kept for expanders, and GPIO 3 wakes a halted Pi."""

SERIAL = SERIAL_PINS
"""The serial console's; 14 goes high while the Pi boots, so only contacts ever go on them."""

SPI = SPI_PINS

ALL_PINS_UA = 50_000
"""Microamperes that all the header's outputs together may give (power supplies page)."""

DIRECT_UA = 3_000
"""Microamperes a pin that the 3.3 V supply was designed for: more goes through a driver."""

DRIVER_INPUT_UA = 1_100
"""Microamperes that a driver asks of a pin at most: a ULN2803A with its pull-down, rounded up."""


@dataclass(frozen=True, slots=True)
class Pads:
    """What a model's pins guarantee: volts, ohms, milliamperes. ``assumed`` names what is not."""

    low_v: float
    high_v: float
    pull_least_ohm: float
    pull_most_ohm: float
    default_ma: float
    most_ma: float
    source: str
    assumed: tuple[str, ...] = ()


_PADS = "Raspberry Pi documentation, GPIO on Raspberry Pi and GPIO pads control"
_OLDER = Pads(0.9, 1.6, 50_000, 65_000, 8, 16, _PADS)
_FOUR = Pads(0.8, 2.0, 33_000, 73_000, 4, 8, _PADS)
_FIVE = Pads(
    0.8,
    2.0,
    33_000,
    73_000,
    4,
    12,
    "drive steps: Linux binding raspberrypi,rp1-gpio",
    ("levels, pulls and the drive at start are a Pi 4's, since RP1's were not to be had",),
)

PADS: dict[PiModel, Pads] = {
    PiModel.ZERO: _OLDER,
    PiModel.ZERO_2: _OLDER,
    PiModel.TWO: _OLDER,
    PiModel.THREE: _OLDER,
    PiModel.FOUR: _FOUR,
    PiModel.FIVE: _FIVE,
}
