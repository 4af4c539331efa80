"""The wire list: a page for each switch with its spurs, and one for the key board."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from firmware_py.book import cautions
from firmware_py.book.circuit import ContactCircuit, OutputCircuit, Part
from firmware_py.book.html import caution, cell, patch, section, table, text
from firmware_py.book.rows import Row
from firmware_py.layout.model import Layout
from firmware_py.wiring.wires import KEY_BOARD, neighbours

_HEAD = (
    ("", "9mm"),
    ("Label, on both ends", "39mm"),
    ("From, at the stand", "29mm"),
    ("Twisted", "22mm"),
    ("To, in the box", "auto"),
    ("Length", "14.5mm"),
    ("Circuit", "14.5mm"),
)


def stand_sheets(layout: Layout, rows: Sequence[Row]) -> Iterator[str]:
    """Every row exactly once; a spur's stand follows its switch's on the same page."""
    names = {thing.id: thing.name for thing in layout.things}
    beside = neighbours(layout)
    pages: dict[str, dict[str, list[Row]]] = {}
    for row in rows:
        stand = row.wire.stand
        pages.setdefault(beside.get(stand, stand), {}).setdefault(stand, []).append(row)
    for page, stands in pages.items():
        name = "Key board" if page == KEY_BOARD else names[page]
        tables = []
        for stand, listed in stands.items():
            title = name if stand == KEY_BOARD else f"{names[stand]} ({stand})"
            tables.append(table(_HEAD, map(_cells, listed), "wires", title))
        shown = [row for listed in stands.values() for row in listed]
        yield section(f"Stand: {name}", caution(*_cautions(shown)), *tables, key="stand")


def _cautions(rows: Sequence[Row]) -> Iterator[str]:
    yield f"{cautions.LOW_VOLTAGE} {cautions.POWER_OFF}"
    if any(row.shape.part is Part.DETECTOR for row in rows):
        yield cautions.TRACK
    if any(isinstance(row.shape, OutputCircuit) and row.shape.coil for row in rows):
        yield cautions.COILS
    if any(row.shape.part is Part.REED for row in rows):
        yield cautions.SMALL


def _cells(row: Row) -> tuple[str, ...]:
    wires = "".join(patch(colour) for colour in row.wires)
    return (
        cell("", "tick"),
        cell(text(row.label), "label"),
        cell(f"{text(row.far)}{_note(row)}"),
        cell(wires),
        cell(_to(row)),
        cell(f"{row.metres:g} m", "number"),
        cell(f'<span class="by">{row.circuit}</span>'),
    )


def _to(row: Row) -> str:
    coloured = text(row.signal.value)
    through = f"<br>by {text(row.near)}" if row.near else ""
    lines = [f'{coloured}: <b class="pin">{text(row.pin)}</b> ({text(row.place)}){through}']
    if row.shape.part is Part.SERVO and isinstance(row.shape, OutputCircuit):
        lines.append(f"red: +{row.shape.supply_v:g} V, fused; black: ground")
    elif isinstance(row.shape, OutputCircuit) and row.back.value == "red":
        fused = "" if row.shape.supply_v < 4 else ", fused"
        by = f", by {row.resistor}" if row.resistor else ""
        lines.append(f"red: +{row.shape.supply_v:g} V{fused}{by}")
    elif isinstance(row.shape, ContactCircuit):
        lines.append(f"black: ground; pull-up {row.resistor}")
    else:
        lines.append("black: ground")
    return "<br>".join(lines)


def _note(row: Row) -> str:
    if not row.inverted:
        return ""
    if isinstance(row.shape, ContactCircuit):
        return "<br><b>inverted</b>: closed while it is not made"
    return "<br><b>inverted</b>: on while the pin is low"
