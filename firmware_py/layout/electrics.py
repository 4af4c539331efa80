"""What the builder's file says of the electrics: which Pi, which chips, which supplies.

Currents are milliamperes, resistances ohms, lengths metres. ``None`` in ``Wiring`` means that the
file does not say; whoever needs the figure then assumes one and names it as assumed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class PiModel(StrEnum):
    """The Raspberry Pis with a 40-pin header, as ``pi`` in ``[wiring]`` names them."""

    ZERO = "zero"
    ZERO_2 = "zero2"
    TWO = "2"
    THREE = "3"
    FOUR = "4"
    FIVE = "5"


class ChipKind(StrEnum):
    """What a chip is, and so how its lines are reached."""

    KERNEL = "kernel"
    """A GPIO chip that the kernel drives; also every chip that the file does not describe."""
    MCP23017 = "mcp23017"
    """16 lines on I2C, the last of each port an output only."""
    MCP23S17 = "mcp23s17"
    """16 lines on SPI."""


class Driver(StrEnum):
    """What stands between a pin and a load that the pin can't feed itself."""

    ULN2803A = "uln2803a"
    MOSFET = "mosfet"


class BoltDrive(StrEnum):
    """What moves a bolt."""

    COIL = "coil"
    SERVO = "servo"


COIL_DRAWN_S = 60.0
"""For a coil of which nothing is known (common practice, no source: its data sheet goes before)."""

FIRST_ADDRESS, LAST_ADDRESS = 0x20, 0x27
"""What A0 to A2 of an MCP23017 or MCP23S17 can say: eight chips on a bus or chip-select."""

EXPANDER_LINES = 16
OUTPUT_ONLY = (7, 15)
"""GPA7 and GPB7 of an MCP23017: an input there can corrupt the bus (Microchip DS20001952)."""

I2C_PINS = (2, 3)
SPI_PINS = (7, 8, 9, 10, 11)
SECOND_SPI_PINS = (16, 17, 18, 19, 20, 21)
SERIAL_PINS = (14, 15)


@dataclass(frozen=True, slots=True)
class Chip:
    """A ``[[chip]]``. ``address`` is 0 for a kernel's; ``select`` is the SPI chip-select."""

    id: str
    kind: ChipKind
    address: int = 0
    bus: int = 0
    select: int = 0

    @property
    def inputs(self) -> tuple[int, ...]:
        """The lines that take a contact; none of a kernel's chip, whose lines are not known."""
        barred = OUTPUT_ONLY if self.kind is ChipKind.MCP23017 else ()
        return tuple(line for line in self.lines if line not in barred)

    @property
    def lines(self) -> tuple[int, ...]:
        """Every line; none of a kernel's chip, whose lines are not known."""
        return () if self.kind is ChipKind.KERNEL else tuple(range(EXPANDER_LINES))

    @property
    def header_pins(self) -> tuple[int, ...]:
        """The header's pins that the chip's bus takes away from contacts and outputs."""
        if self.kind is ChipKind.MCP23017 and self.bus == 1:
            return I2C_PINS
        if self.kind is ChipKind.MCP23S17:
            return {0: SPI_PINS, 1: SECOND_SPI_PINS}.get(self.bus, ())
        return ()


@dataclass(frozen=True, slots=True)
class Wiring:
    """The layout's ``[wiring]``; every part of it may be left out."""

    pi: PiModel | None = None
    led_ma: float | None = None
    red_v: float | None = None
    green_v: float | None = None
    white_v: float | None = None
    blue_v: float | None = None
    supply_v: float | None = None
    driver: Driver | None = None
    pull_up_ohm: float | None = None
    lead_m: float | None = None
    wire_mm2: float | None = None
    bolt: BoltDrive | None = None
    bolt_drawn_s: float | None = None
    coil_v: float | None = None
    bolt_ma: float | None = None
    relay_ma: float | None = None
    buzzer_ma: float | None = None
    rail_ma: float | None = None
    serial_console: bool | None = None
    keep: tuple[int, ...] = ()
    """Header pins that are taken by something else, such as a fan or an expander's interrupt."""

    @property
    def longest_drawn_s(self) -> float | None:
        """How long a bolt may be drawn without a rest; ``None`` for as long as the rules have it.

        A servo needs none. A coil is taken for one that needs it, unless the file says 0.
        """
        if self.bolt_drawn_s is not None:
            return self.bolt_drawn_s or None
        return None if self.bolt is BoltDrive.SERVO else COIL_DRAWN_S


NOT_SAID = Wiring()
"""The wiring of a file without a ``[wiring]``."""
