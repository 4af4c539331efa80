"""The 40-pin header as it looks from above, with what goes to each of its pins."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from firmware_py.book.legs import EARTH, HEADER, I2C_WIRES, SPI_WIRES, V3, V5
from firmware_py.book.rows import Row
from firmware_py.book.svg import Plate
from firmware_py.layout.electrics import I2C_PINS, SERIAL_PINS, Chip, ChipKind
from firmware_py.layout.model import HeaderPin, Layout

WIDE, STEP, PAD, TOP = 178.0, 9.4, 7.0, 16.0
SIDE = 18.0
"""Room for what a pin is called, beside its pad."""


def header_svg(layout: Layout, rows: Iterable[Row]) -> str:
    """The diagram; wires are bold, a bus says what is on it, the rest is free or kept."""
    used = {row.wire.pin.bcm: row for row in rows if isinstance(row.wire.pin, HeaderPin)}
    buses = _buses(layout.chips)
    plate = Plate(WIDE, TOP + 20 * STEP + 8, "The 40-pin header with the wires of this layout")
    middle = WIDE / 2
    plate.words(
        middle, 3, "this end at the board's edge, away from the USB sockets", anchor="middle"
    )
    plate.words(middle, 8, "(pin 1 has a square pad on the board's underside)", anchor="middle")
    plate.rect(middle - PAD - 3, TOP - 3, 2 * PAD + 6, 20 * STEP + 4, line=0.5)
    for place, what in HEADER.items():
        side = -1 if place % 2 else 1
        y = TOP + (place - 1) // 2 * STEP + STEP / 2 - 1
        taken = isinstance(what, str) or what in used or what in buses
        _pad(plate, (middle + side * (PAD / 2 + 0.5), y), place, what, taken)
        _says(plate, side, y, what, _text(what, layout, used, buses))
    plate.words(middle, TOP + 20 * STEP + 5, "towards the USB sockets", anchor="middle")
    return plate.svg()


def _pad(plate: Plate, at: tuple[float, float], place: int, what: str | int, taken: bool) -> None:
    x, y = at
    dark = what == EARTH
    fill = "#000" if dark else "#ddd" if isinstance(what, str) else "#fff"
    plate.rect(x - PAD / 2, y - PAD / 2, PAD, PAD, fill=fill, line=0.9 if taken else 0.25)
    plate.words(
        x, y, str(place), anchor="middle", bold=taken, fill="#fff" if dark else "#000", size=3.2
    )


def _says(plate: Plate, side: int, y: float, what: str | int, text: tuple[str, bool]) -> None:
    """What the pin is called, and what goes there."""
    words, wired = text
    edge = WIDE / 2 + side * (PAD + 5)
    anchor = "start" if side > 0 else "end"
    name = what if isinstance(what, str) else f"GPIO {what}"
    plate.words(edge, y, name, anchor=anchor, size=3.1, bold=isinstance(what, str))
    x = edge + side * SIDE
    if wired:
        plate.line(edge + side * (SIDE - 4), y, x - side, y, wide=0.4)
    room = WIDE / 2 - PAD - 5 - SIDE - 1
    plate.words(x, y, words, anchor=anchor, bold=wired, size=3.3, room=room)


def _text(
    what: str | int, layout: Layout, used: Mapping[int, Row], buses: Mapping[int, str]
) -> tuple[str, bool]:
    if isinstance(what, str):
        return {V3: "for pull-ups and chips", V5: "leave free", EARTH: ""}[what], False
    if what in used:
        return used[what].label, True
    if what in buses:
        return buses[what], True
    return _unused(what, layout), False


def _unused(bcm: int, layout: Layout) -> str:
    if bcm in (0, 1):
        return "never: add-on boards' memory"
    if bcm in layout.wiring.keep:
        return "kept for something else"
    if bcm in I2C_PINS:
        return "leave free: I2C"
    if bcm in SERIAL_PINS and layout.wiring.serial_console is not False:
        return "leave free: serial console"
    return "free"


def _buses(chips: Iterable[Chip]) -> dict[int, str]:
    """What each pin of a bus carries, and to which chips."""
    found: dict[int, list[str]] = {}
    words: dict[int, str] = {}
    for chip in chips:
        wires: Mapping[int, str] = {}
        if chip.kind is ChipKind.MCP23S17:
            wires = SPI_WIRES.get(chip.bus, {})
        elif chip.kind is ChipKind.MCP23017 and chip.bus == 1:
            wires = I2C_WIRES
        for bcm, word in wires.items():
            if word.startswith("CE") and word != f"CE{chip.select}":
                words.setdefault(bcm, f"{word}: leave free")
                continue
            words[bcm] = word
            found.setdefault(bcm, []).append(chip.id)
    return {bcm: _listed(word, found.get(bcm, [])) for bcm, word in words.items()}


def _listed(word: str, chips: list[str]) -> str:
    if not chips:
        return word
    if len(chips) <= 2:
        return f"{word} of {' and '.join(chips)}"
    return f"{word} of all {len(chips)} expanders"
