"""Reads ``[[chip]]`` and ``[wiring]``, and judges the wires against them."""

from __future__ import annotations

import re
from collections.abc import Iterable

from firmware_py.layout.electrics import (
    FIRST_ADDRESS,
    LAST_ADDRESS,
    BoltDrive,
    Chip,
    ChipKind,
    Driver,
    PiModel,
    Wiring,
)
from firmware_py.layout.errors import Problems, shown
from firmware_py.layout.model import ChipLine, HeaderPin
from firmware_py.layout.tables import Span, Table
from firmware_py.layout.wires import FIRST_PIN, LAST_PIN, Use, Wires, pin_name

AUTO = "auto"
"""Not a chip's id: it stands for wires that have no pin."""

BUSES = range(32)
ADDRESSES = range(FIRST_ADDRESS, LAST_ADDRESS + 1)
RIGHT_ADDRESS = f"an address from 0x{FIRST_ADDRESS:02x} to 0x{LAST_ADDRESS:02x} (pins A0 to A2)"

DRAWN = Span("seconds", low=0.0, high=3_600.0)
CURRENT = Span("milliamperes", above=0.0, high=5000.0)
LED_CURRENT = Span("milliamperes", low=0.5, high=25.0)
VOLTS = Span("volts", low=3.0, high=24.0)
FORWARD = Span("volts", low=1.0, high=4.0)
OHMS = Span("ohms", low=470.0, high=100_000.0)
METRES = Span("metres", low=0.05, high=100.0)
AREA = Span("square millimetres", low=0.05, high=6.0)

_CHIP = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


def read_chip(table: Table) -> Chip:
    """A ``[[chip]]`` table."""
    name = table.needed("id", '"io-1", say')
    if name and (not _CHIP.fullmatch(name) or name == AUTO):
        right = f'a chip\'s id is letters, digits, ".", "_" and "-", and not "{AUTO}"'
        table.wrong("id", f"the id {shown(name)} is not in the right form; {right}")
    kind = table.choice("kind", ChipKind.KERNEL)
    if kind is ChipKind.KERNEL:
        chip = Chip(name, kind)
        known = table.value("kind") in (None, kind)
        for key in ("address", "bus", "select"):
            if table.value(key) is not None and known:
                right = 'leave it out, or write kind = "mcp23017" or "mcp23s17"'
                table.wrong(key, f"{key} is not for a chip that the kernel drives; {right}")
    else:
        chip = _expander(table, name, kind)
    table.finish()
    return chip


def read_wiring(table: Table) -> Wiring:
    """The ``[wiring]`` table; what it does not say stays ``None``."""

    def number(key: str, span: Span) -> float | None:
        return None if table.value(key) is None else table.number(key, span.high, span)

    def forward(colour: str) -> float | None:
        return number(f"{colour}_v", FORWARD)

    wiring = Wiring(
        pi=None if table.value("pi") is None else table.choice("pi", PiModel.FOUR),
        led_ma=number("led_ma", LED_CURRENT),
        red_v=forward("red"),
        green_v=forward("green"),
        white_v=forward("white"),
        blue_v=forward("blue"),
        supply_v=number("supply_v", VOLTS),
        driver=None if table.value("driver") is None else table.choice("driver", Driver.MOSFET),
        pull_up_ohm=number("pull_up_ohm", OHMS),
        lead_m=number("lead_m", METRES),
        wire_mm2=number("wire_mm2", AREA),
        bolt=None if table.value("bolt") is None else table.choice("bolt", BoltDrive.COIL),
        bolt_drawn_s=number("bolt_drawn_s", DRAWN),
        coil_v=number("coil_v", VOLTS),
        bolt_ma=number("bolt_ma", CURRENT),
        relay_ma=number("relay_ma", CURRENT),
        buzzer_ma=number("buzzer_ma", CURRENT),
        rail_ma=number("rail_ma", CURRENT),
        serial_console=_said(table, "serial_console"),
        keep=_kept(table),
    )
    table.finish()
    return wiring


def judge_chips(
    tables: Iterable[Table], chips: Iterable[Chip], wires: Wires, problems: Problems
) -> None:
    """Note chips that are given twice, and wires that end where their chip has no place."""
    known: dict[str, Chip] = {}
    places: dict[tuple[object, ...], Chip] = {}
    for table, chip in zip(tables, chips, strict=True):
        if chip.id and known.setdefault(chip.id, chip) is not chip:
            table.wrong("id", f"the id {shown(chip.id)} is already given to a chip; give another")
        place = (chip.kind, chip.bus, chip.select, chip.address)
        earlier = places.setdefault(place, chip)
        if chip.kind is not ChipKind.KERNEL and chip.address and earlier is not chip:
            what = f"0x{chip.address:02x} is already the address of {shown(earlier.id)} on that bus"
            table.wrong("address", f"{what}; each chip needs one of its own, {RIGHT_ADDRESS}")
    for use in wires.uses:
        misplaced = _misplaced(use, known)
        if misplaced is not None:
            problems.add(use.path, misplaced)


def judge_kept(table: Table, wiring: Wiring, wires: Wires) -> None:
    """Note wires on header pins that ``keep`` says are taken."""
    for use in wires.uses:
        if isinstance(use.pin, HeaderPin) and use.pin.bcm in wiring.keep:
            right = "give the wire another pin, or take that one out of keep"
            table.wrong("keep", f"{pin_name(use.pin)} is given to {use.wire}; {right}")


def _misplaced(use: Use, chips: dict[str, Chip]) -> str | None:
    match use.pin:
        case ChipLine(name, line) if name in chips:
            chip = chips[name]
            if not chip.lines:
                return None
            if line not in chip.lines:
                return f"{pin_name(use.pin)}: an {_named(chip)} has the lines 0 to 15; use one"
            if use.sensing and line not in chip.inputs:
                why = f"line {line} (GP{'AB'[line // 8]}7) of an {_named(chip)} is an output only"
                return f"{pin_name(use.pin)}: {why}; put {use.wire} on 0 to 6 or 8 to 14"
        case HeaderPin(bcm):
            for chip in chips.values():
                if bcm in chip.header_pins:
                    bus = "I2C" if chip.kind is ChipKind.MCP23017 else "SPI"
                    why = f"GPIO {bcm} is the {bus} bus of chip {shown(chip.id)}"
                    return f"{why}; give {use.wire} another pin"
    return None


def _named(chip: Chip) -> str:
    return chip.kind.value.upper()


def _expander(table: Table, name: str, kind: ChipKind) -> Chip:
    address = 0
    if table.value("address") is None:
        table.missing("address", f"; write address = 0x20, say: {RIGHT_ADDRESS}")
    else:
        address = _whole(table, "address", 0, ADDRESSES, RIGHT_ADDRESS)
    if kind is ChipKind.MCP23017:
        if table.value("select") is not None:
            table.wrong("select", "select is for SPI; an MCP23017 has an address and a bus only")
        right = "the number of an I2C bus such as 1"
        return Chip(name, kind, address, _whole(table, "bus", 1, BUSES, right))
    bus = _whole(table, "bus", 0, BUSES, "the number of an SPI bus such as 0")
    select = _whole(table, "select", 0, range(3), "the chip-select, 0, 1 or 2")
    return Chip(name, kind, address, bus, select)


def _whole(table: Table, key: str, default: int, span: range, right: str) -> int:
    value = table.value(key)
    if value is None:
        return default
    if isinstance(value, bool) or not isinstance(value, int) or value not in span:
        table.wrong(key, f"{key} must be {right}, not {shown(value)}")
        return default
    return value


def _said(table: Table, key: str) -> bool | None:
    return None if table.value(key) is None else table.flag(key)


def _kept(table: Table) -> tuple[int, ...]:
    value = table.value("keep")
    if value is None:
        return ()
    if isinstance(value, list):
        pins = [pin for pin in value if isinstance(pin, int) and not isinstance(pin, bool)]
        if len(pins) == len(value) and all(FIRST_PIN <= pin <= LAST_PIN for pin in pins):
            return tuple(pins)
    right = f"a list of header pins from {FIRST_PIN} to {LAST_PIN} such as [4, 17]"
    table.wrong("keep", f"keep must be {right}, not {shown(value)}")
    return ()
