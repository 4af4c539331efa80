"""The free places of a layout: pins of the header, lines of its expanders, chips to be added."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from firmware_py.layout.electrics import (
    FIRST_ADDRESS,
    I2C_PINS,
    LAST_ADDRESS,
    SPI_PINS,
    Chip,
    ChipKind,
)
from firmware_py.layout.model import ChipLine, HeaderPin, Layout, Pin
from firmware_py.wiring.header import (
    ALL_PINS_UA,
    NEVER_PLANNED,
    PULLED_UP_AT_BOOT,
    SERIAL,
    SPI,
    USABLE,
)
from firmware_py.wiring.room import Room
from firmware_py.wiring.wires import Need, Wire

HEADER = "the header"
"""The header as a board; chips are boards by their ids, which hold no blanks."""

I2C_BUS, SPI_BUS, SELECTS = 1, 0, (0, 1)
"""Where chips are added: the bus on GPIO 2 and 3, and SPI0 with its two chip-selects."""

CHIP_NAME = "io"


class Expanders(StrEnum):
    """Which kind of chip a plan may add."""

    NONE = "none"
    I2C = "i2c"
    SPI = "spi"


class Sort(StrEnum):
    """The sorts of places; see `Room`."""

    DOWN = "down"
    UP = "up"
    SERIAL = "serial"
    BOTH = "both"
    OUTPUT_ONLY = "output_only"


TAKES: Mapping[Need, tuple[Sort, ...]] = {
    Need.CONTACT: (Sort.UP, Sort.DOWN, Sort.SERIAL, Sort.BOTH),
    Need.COIL: (Sort.DOWN,),
    Need.HIGH: (Sort.DOWN, Sort.OUTPUT_ONLY, Sort.BOTH),
    Need.LOW: (Sort.UP, Sort.DOWN, Sort.OUTPUT_ONLY, Sort.BOTH),
    Need.REFUSED: (),
}
"""The sorts that a wire may have, those first that fewest others can use."""

ON_HEADER = (Sort.DOWN, Sort.UP, Sort.SERIAL)


@dataclass(slots=True)
class Free:
    """The free places, by board and sort, each list in the order in which it is given out."""

    places: dict[str, dict[Sort, list[int]]]
    ua: int

    def room(self) -> Room:
        """Count them."""

        def count(sort: Sort) -> int:
            return sum(len(board.get(sort, ())) for board in self.places.values())

        return Room(
            count(Sort.DOWN),
            count(Sort.UP),
            count(Sort.SERIAL),
            count(Sort.BOTH),
            count(Sort.OUTPUT_ONLY),
            self.ua,
        )

    def copy(self) -> Free:
        """The same places, to be taken independently."""
        boards = self.places.items()
        return Free({b: {s: list(at) for s, at in sorts.items()} for b, sorts in boards}, self.ua)

    def take(self, board: str, sort: Sort, ua: int) -> Pin:
        """Give the next place of that sort away."""
        at = self.places[board][sort].pop(0)
        if board == HEADER:
            self.ua -= ua
            return HeaderPin(at)
        return ChipLine(board, at)


def free_places(
    layout: Layout, wires: Iterable[Wire], chips: Iterable[Chip], expanders: Expanders
) -> Free:
    """What is free beside the wires that have a pin; ``chips`` are the layout's and new ones."""
    placed = [wire for wire in wires if wire.pin is not None]
    used = {wire.pin for wire in placed}
    header = [bcm for bcm in _header(layout, chips, expanders) if HeaderPin(bcm) not in used]
    down = [bcm for bcm in header if bcm not in PULLED_UP_AT_BOOT and bcm not in SERIAL]
    places = {
        HEADER: {
            Sort.UP: [bcm for bcm in header if bcm in PULLED_UP_AT_BOOT],
            # The SPI pins come last, so that SPI stays free for as long as it can.
            Sort.DOWN: sorted(down, key=lambda bcm: (bcm in SPI, bcm)),
            Sort.SERIAL: [bcm for bcm in header if bcm in SERIAL],
        }
    }
    for chip in chips:
        lines = [line for line in chip.lines if ChipLine(chip.id, line) not in used]
        places[chip.id] = {
            Sort.BOTH: [line for line in lines if line in chip.inputs],
            Sort.OUTPUT_ONLY: [line for line in lines if line not in chip.inputs],
        }
    on_header = sum(wire.ua for wire in placed if isinstance(wire.pin, HeaderPin))
    return Free(places, ALL_PINS_UA - on_header)


def _header(layout: Layout, chips: Iterable[Chip], expanders: Expanders) -> Iterator[int]:
    barred = {*NEVER_PLANNED, *layout.wiring.keep}
    barred.update(*(chip.header_pins for chip in chips))
    if expanders is Expanders.SPI:
        barred.update(SPI_PINS)
    if layout.wiring.serial_console is not False:
        barred.update(SERIAL)
    return (bcm for bcm in USABLE if bcm not in barred)


def new_chips(layout: Layout, wires: Iterable[Wire], expanders: Expanders) -> tuple[Chip, ...]:
    """Every chip that could still be added, in the order in which they would be."""
    if expanders is Expanders.NONE or bus_taken_by(layout, wires, expanders):
        return ()
    addresses = range(FIRST_ADDRESS, LAST_ADDRESS + 1)
    if expanders is Expanders.I2C:
        places = [(ChipKind.MCP23017, at, I2C_BUS, 0) for at in addresses]
    else:
        places = [(ChipKind.MCP23S17, at, SPI_BUS, cs) for cs in SELECTS for at in addresses]
    there = {(chip.kind, chip.address, chip.bus, chip.select) for chip in layout.chips}
    names = _names(layout, wires)
    return tuple(Chip(next(names), *place) for place in places if place not in there)


def bus_taken_by(layout: Layout, wires: Iterable[Wire], expanders: Expanders) -> tuple[str, ...]:
    """The wires, or "keep", on pins that the bus of new chips would need."""
    needed = {Expanders.NONE: (), Expanders.I2C: I2C_PINS, Expanders.SPI: SPI_PINS}[expanders]
    kept = ("keep",) if any(bcm in needed for bcm in layout.wiring.keep) else ()
    return (
        *(w.name for w in wires if isinstance(w.pin, HeaderPin) and w.pin.bcm in needed),
        *kept,
    )


def _names(layout: Layout, wires: Iterable[Wire]) -> Iterator[str]:
    """Ids that no chip has, nor any that only a wire names."""
    taken = {chip.id for chip in layout.chips}
    taken |= {wire.pin.chip for wire in wires if isinstance(wire.pin, ChipLine)}
    number = 0
    while True:
        number += 1
        if f"{CHIP_NAME}-{number}" not in taken:
            yield f"{CHIP_NAME}-{number}"
