"""Puts planned pins into the text of a layout file, and changes no other character of it.

The values that read "auto" are replaced where they stand, and tables for new chips are added at the
end. Libraries that rewrite TOML were not used: the one that keeps comments gathers the tables of a
kind that stand apart, which a layout written stand by stand always has.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from firmware_py.layout.electrics import Chip, ChipKind
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.lines import Path, lines_of
from firmware_py.layout.model import HeaderPin, Kind, Layout, Pin, Thing
from firmware_py.layout.reading import parse_layout
from firmware_py.layout.wires import pin_name
from firmware_py.wiring.planning import Plan
from firmware_py.wiring.wires import Wire, wires_of


class PutError(ValueError):
    """A wire's "auto" was not found in the text, or the new text does not say what was planned."""


def with_plan(text: str, file: str, plan: Plan) -> str:
    """The text with every placed wire's pin and a table for every new chip.

    The outcome is read back before it is given. Raises `PutError`, and `LayoutError` for a text
    that is no layout.
    """
    layout = parse_layout(text, file)
    lines = lines_of(text)
    spots: list[tuple[int, int, str]] = []
    for wire in plan.placed:
        found = [lines.string(path) for path in _paths(layout, wire)]
        spot = next((spot for spot in found if spot is not None), None)
        if spot is None:
            raise PutError(f'the "auto" of {wire.name} was not found; write its pin in by hand')
        spots.append((*spot, _value(wire.pin)))
    for start, end, value in sorted(spots, reverse=True):
        text = text[:start] + value + text[end:]
    text += _tables(plan.chips, text)
    _prove(text, file, layout, plan)
    return text


def _paths(layout: Layout, wire: Wire) -> tuple[Path, Path]:
    """Where its pin may stand: as its value, or as ``pin`` of the table that is its value."""
    at = [thing.id for thing in _of_kind(layout)[wire.kind]].index(wire.thing)
    table: Path = (wire.kind.value, at)
    if wire.senses:
        table = (*table, "contacts")
    elif wire.key in ("green", "red", "white"):
        table = (*table, "lamps")
    return (*table, wire.key), (*table, wire.key, "pin")


def _of_kind(layout: Layout) -> Mapping[Kind, tuple[Thing, ...]]:
    return {
        Kind.SWITCH: layout.switches,
        Kind.SPUR: layout.spurs,
        Kind.GATE: layout.gates,
        Kind.DERAIL: layout.derails,
        Kind.FLAG: layout.flags,
        Kind.CHOCK: layout.chocks,
        Kind.KEY: layout.keys,
    }


def _value(pin: Pin) -> str:
    return str(pin.bcm) if isinstance(pin, HeaderPin) else f'"{pin_name(pin)}"'


def _tables(chips: Iterable[Chip], text: str) -> str:
    tables = "".join(_table(chip) for chip in chips)
    if not tables:
        return ""
    if text and not text.endswith("\n"):
        tables = "\n" + tables
    return tables.replace("\n", "\r\n") if "\r\n" in text else tables


def _table(chip: Chip) -> str:
    rows = ["", "[[chip]]", f'id = "{chip.id}"', f'kind = "{chip.kind}"']
    rows.append(f"address = 0x{chip.address:02x}   # {_jumpers(chip)}")
    rows.append(f"bus = {chip.bus}")
    if chip.kind is ChipKind.MCP23S17:
        rows.append(f"select = {chip.select}")
    return "\n".join(rows) + "\n"


def _jumpers(chip: Chip) -> str:
    levels = [f"A{bit} {'high' if chip.address >> bit & 1 else 'low'}" for bit in (2, 1, 0)]
    return ", ".join(levels)


def _prove(text: str, file: str, before: Layout, plan: Plan) -> None:
    try:
        after = parse_layout(text, file)
    except LayoutError as error:
        raise PutError(f"the planned file would be wrong: {error}") from None
    wanted = {wire.id: wire.pin for wire in plan.wires}
    chips = (*before.chips, *plan.chips)
    if {wire.id: wire.pin for wire in wires_of(after)} != wanted or after.chips != chips:
        raise PutError("the planned file would not say what was planned; nothing is changed")
