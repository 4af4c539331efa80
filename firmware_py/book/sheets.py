"""The book's sections, each a text of HTML."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from firmware_py.book import cautions
from firmware_py.book.circuit import Circuit, ContactCircuit, Feed, OutputCircuit, Part
from firmware_py.book.contact_circuits import contact_svg
from firmware_py.book.dip import expander_svg, uln_svg
from firmware_py.book.header_plate import header_svg
from firmware_py.book.html import caution, cell, figure, section, table, text
from firmware_py.book.output_circuits import output_svg
from firmware_py.book.parts import Item, strangers_of
from firmware_py.book.rows import Row
from firmware_py.book.supplies import Supply
from firmware_py.book.supply_plate import supply_svg
from firmware_py.layout.model import Layout
from firmware_py.wiring.assumed import Assumed
from firmware_py.wiring.contact_figures import LEADS
from firmware_py.wiring.figure import Figure
from firmware_py.wiring.telling import chip_name


def first_sheet(layout: Layout, file: str, rows: Sequence[Row], faults: Sequence[Figure]) -> str:
    """The title, what is wrong if anything is, the cautions, the order of work."""
    contacts = sum(row.wire.senses for row in rows)
    counted = f"{contacts} contacts and {len(rows) - contacts} outputs"
    told = Assumed(layout.wiring)
    metres = told.plain("lead_m")
    assumed = "assumed, since the layout file gives no lead_m" if told.names else "as lead_m says"
    wrong = [
        f"{each.about}: {each.what}: {each.value} ({each.formula}): {each.wrong}" for each in faults
    ]
    advice = next(words for most, words in LEADS if metres <= most)
    return "\n".join(
        (
            '<section data-part="first">',
            f"<h1>Wiring of {text(layout.name)}</h1>",
            f"<p>Made from {text(file)}: {counted}. Every label here is the one that "
            "<b>spurlock check</b> and the bench page show. Make the book again whenever the file "
            "changes; wires that have a pin keep it.</p>",
            caution(*wrong, title="Put this right before you solder:") if wrong else "",
            caution(*cautions.ALL, title="Before you begin"),
            "<h3>In this order</h3><ol>",
            "".join(f"<li>{text(step)}</li>" for step in _STEPS),
            "</ol>",
            f"<p>Every lead is counted as {metres:g} m ({assumed}); measure yours. "
            f"Leads of that length: {text(advice)}.</p>",
            "</section>",
        )
    )


_STEPS = (
    "Buy by the parts list at the end.",
    "Supplies and fuses, without anything on them. Measure every voltage.",
    "Expanders and drivers in the box, by their diagrams, with the chips out of their sockets. "
    "Measure, then put the chips in.",
    "One stand, by its page: label both ends of each lead before you solder it, tick it off.",
    "Before power: no pin is joined to 5 V or more, and none to ground while its contact is open.",
    "Power, and the bench page: each contact moves alone, each lamp is the one it is named for.",
    "Then the next stand. Coils last of all.",
)


def header_sheet(layout: Layout, rows: Sequence[Row]) -> str:
    """The header."""
    return section(
        "The Pi's header",
        caution(cautions.PINS),
        figure(
            "Bold: a wire of this layout. Grey pads: power. Black pads: ground.",
            header_svg(layout, rows),
        ),
        key="header",
    )


def chip_sheets(layout: Layout, rows: Sequence[Row]) -> Iterator[str]:
    """A page for each expander, then one for chips whose legs are not known."""
    for chip in layout.chips:
        if chip.lines:
            yield section(
                f"Expander {chip.id}",
                f"<p>{text(chip_name(chip))}. It stands in the box, by the Pi, at 3.3 V.</p>",
                caution(cautions.BUS),
                figure("Legs without a bold frame stay free.", expander_svg(chip, rows)),
                key="expander",
            )
    for name in strangers_of(layout, rows):
        lines = sorted(
            (int(row.pin.rpartition(":")[2]), row)
            for row in rows
            if row.pin.rpartition(":")[0] == name
        )
        yield section(
            f"Chip {name}",
            "<p>The layout file does not say what kind of chip this is, so its legs are not drawn: "
            "its own sheet tells which leg each line is. A [[chip]] table in the layout file would "
            "describe it.</p>",
            table(
                (("Line", "20mm"), ("Pin", "50mm"), ("Wire", "auto")),
                (
                    (cell(str(n)), cell(text(row.pin)), cell(text(row.label), "label"))
                    for n, row in lines
                ),
                "stranger",
            ),
            key="stranger",
        )


def driver_sheets(rows: Sequence[Row]) -> Iterator[str]:
    """ULN2803As with their channels, two to a page."""
    names = list(dict.fromkeys(row.channel.chip for row in rows if row.channel))
    for at in range(0, len(names), 2):
        here = names[at : at + 2]
        coils = any(row.channel.coils for row in rows if row.channel and row.channel.chip in here)
        yield section(
            "Drivers",
            caution(cautions.COILS if coils else cautions.PINS),
            *(figure("Legs without a bold frame stay free.", uln_svg(name, rows)) for name in here),
            key="drivers",
        )


def circuit_sheets(rows: Sequence[Row]) -> Iterator[str]:
    """Each circuit once, contacts first, then outputs."""
    contacts = [row for row in rows if isinstance(row.shape, ContactCircuit)]
    outputs = [row for row in rows if isinstance(row.shape, OutputCircuit)]
    if contacts:
        yield section(
            "Circuits of the contacts",
            "<p>Each contact is a pair of wires between its pin and ground. The pull-up is in the "
            "box, at the Pi's end, and goes to 3.3 V only.</p>",
            caution(cautions.TRACK),
            *_circuits(contacts),
            key="circuits",
        )
    if outputs:
        coils = any(isinstance(row.shape, OutputCircuit) and row.shape.coil for row in rows)
        yield section(
            "Circuits of the outputs",
            "<p>A driver's ground, the supply's minus and the Pi's ground are joined at one "
            "point.</p>",
            caution(cautions.PINS, *([cautions.COILS] if coils else [])),
            *_circuits(outputs),
            key="circuits",
        )


def _circuits(rows: Sequence[Row]) -> Iterator[str]:
    shapes: dict[Circuit, list[Row]] = {}
    for row in rows:
        shapes.setdefault(row.shape, []).append(row)
    for shape, users in shapes.items():
        svg = contact_svg(shape) if isinstance(shape, ContactCircuit) else output_svg(shape)
        title = f'<span class="by">{users[0].circuit}</span> <b>{text(title_of(shape))}</b>'
        names = " ".join(f"<span>{text(f'{row.label} ({row.pin})')},</span>" for row in users)
        yield figure(f'{title}<br><span class="of">For {names[:-8]}</span></span>', svg)


def title_of(shape: Circuit) -> str:
    """A circuit's title."""
    if isinstance(shape, ContactCircuit):
        return shape.part.value
    what = f"{shape.colour} lamp" if shape.part is Part.LAMP else shape.part.value
    how = {
        Feed.PIN: "straight on the pin",
        Feed.MOSFET: f"behind a MOSFET, from {shape.supply_v:g} V",
        Feed.ULN: f"behind a ULN2803A, from {shape.supply_v:g} V",
        Feed.SERVO_BOARD: f"behind a servo board, from {shape.supply_v:g} V",
    }[shape.feed]
    return f"{what}, {how}{', on while the pin is low' if shape.low else ''}"


def supply_sheet(supplies: Sequence[Supply]) -> str:
    """Supplies, fuses and the one point where all grounds meet."""
    return section(
        "Supplies, fuses and grounds",
        caution(cautions.LOW_VOLTAGE, cautions.SUPPLIES, cautions.CODES),
        figure(
            "Every minus goes to one point by a wire of its own; nothing is chained. The Pi's goes "
            "there from a ground pin of its header.",
            supply_svg(supplies),
        ),
        key="supplies",
    )


def parts_sheet(items: Sequence[Item]) -> str:
    """The parts list."""
    groups: dict[str, list[Item]] = {}
    for item in items:
        groups.setdefault(item.group, []).append(item)
    parts = []
    for group, listed in groups.items():
        parts.append(f"<h3>{text(group)}</h3>")
        rows = (
            (
                cell("", "tick"),
                cell(text(f"{item.count} {item.unit}".strip()), "number"),
                cell(text(item.name)),
            )
            for item in listed
        )
        parts.append(table((("", "9mm"), ("Count", "15mm"), ("Part", "auto")), rows, "parts"))
    return section(
        "Parts list",
        "<p>What the drawings show, and nothing to spare but wire. Resistors are of the E24 "
        "series.</p>",
        caution(cautions.SMALL, cautions.SUPPLIES),
        *parts,
        key="parts",
    )
