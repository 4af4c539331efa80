"""The parts list: every part that the drawings show, counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from firmware_py.book.circuit import Circuit, ContactCircuit, Feed, OutputCircuit, Part
from firmware_py.book.contact_circuits import ohms
from firmware_py.book.dip import RESET_OHM, SUPPLY_F
from firmware_py.book.output_circuits import GATE_OHM, PULL_OHM, PULL_UP_OHM
from firmware_py.book.rows import Row
from firmware_py.book.supplies import Supply
from firmware_py.layout.electrics import PiModel
from firmware_py.layout.model import Layout
from firmware_py.wiring.assumed import Assumed
from firmware_py.wiring.contact_figures import FILTER_F, SERIES_OHM
from firmware_py.wiring.figure import plain
from firmware_py.wiring.formulas import WATTS

SPARE = 1.1
"""Wire to buy for each metre that is used (common practice)."""


@dataclass(frozen=True, slots=True)
class Item:
    """A line of the list. ``count`` is pieces, or with ``unit`` "m" metres of wire."""

    group: str
    name: str
    count: int
    unit: str = ""


CONTACTS, LAMPS, RESISTORS = "Contacts", "Lamps and loads", "Resistors and capacitors"
DRIVERS, CHIPS, LEADS, POWER = "Drivers", "Pi and expanders", "Leads", "Supplies and fuses"

PI_NAMES = {
    **{model: model.value for model in PiModel},
    PiModel.ZERO: "Zero",
    PiModel.ZERO_2: "Zero 2",
}

_ENDS = {
    Part.HASP: ((CONTACTS, "micro switch", 2),),
    Part.MICRO: ((CONTACTS, "micro switch", 1),),
    Part.BUTTON: ((CONTACTS, "push button, normally open", 1),),
    Part.REED: ((CONTACTS, "reed switch", 1), (CONTACTS, "magnet for a reed switch", 1)),
    Part.DETECTOR: ((CONTACTS, "detector with an opto-coupler output", 1),),
    Part.BOLT: ((LAMPS, "bolt with a coil, spring-shut", 1),),
    Part.SERVO: ((LAMPS, "small servo for a bolt", 1),),
    Part.RELAY: (
        (LAMPS, "relay for track power, normally open contact", 1),
        (LAMPS, "fuse for a spur's track feed, with its holder", 1),
    ),
    Part.BUZZER: ((LAMPS, "buzzer that sounds on plain DC", 1),),
}


def parts_of(layout: Layout, rows: Sequence[Row], supplies: Iterable[Supply]) -> tuple[Item, ...]:
    """The whole list, group by group."""
    counts: Counter[tuple[str, str]] = Counter()
    for row in rows:
        for group, name, count in (*_at_stand(row.shape), *_in_box(row.shape)):
            counts[group, name] += count
    for group, name, count in (*_ulns(rows), *_chips(layout, rows)):
        counts[group, name] += count
    order = (CONTACTS, LAMPS, RESISTORS, DRIVERS, CHIPS)
    found = [
        Item(group, name, counts[group, name])
        for wanted in order
        for group, name in sorted(counts, key=lambda each: not each[1].endswith("LED"))
        if group == wanted
    ]
    return (*found, *_leads(layout, rows), *_power(supplies))


def metres_of(rows: Iterable[Row]) -> dict[str, float]:
    """Metres of wire by colour, without anything to spare."""
    metres: dict[str, float] = {}
    for row in rows:
        for colour in row.wires:
            metres[colour.value] = metres.get(colour.value, 0.0) + row.metres
    return metres


def _at_stand(shape: Circuit) -> Iterator[tuple[str, str, int]]:
    if isinstance(shape, OutputCircuit) and shape.part is Part.LAMP:
        yield LAMPS, f"{shape.colour} LED", 1
        return
    yield from _ENDS[shape.part]


def _in_box(shape: Circuit) -> Iterator[tuple[str, str, int]]:
    if isinstance(shape, ContactCircuit):
        yield RESISTORS, _resistor(shape.pull_up_ohm), 1
        if shape.series:
            yield RESISTORS, _resistor(SERIES_OHM), 1
        if shape.filtered:
            yield RESISTORS, f"capacitor, {plain(FILTER_F, 'F')}", 1
        if shape.protected:
            yield RESISTORS, "TVS diode for 3.3 V lines", 1
        return
    if shape.resistor_ohm:
        yield RESISTORS, _resistor(shape.resistor_ohm, shape.rating_w), 1
    if shape.feed is Feed.PIN:
        return
    yield RESISTORS, _resistor(PULL_OHM), 1
    if shape.low:
        yield RESISTORS, _resistor(PULL_UP_OHM), 1
        yield DRIVERS, "N-MOSFET, fully on at 2.5 V", 1
    if shape.feed is Feed.MOSFET:
        yield RESISTORS, _resistor(GATE_OHM), 1
        yield DRIVERS, "N-MOSFET, fully on at 2.5 V", 1
        if shape.coil:
            amperes = plain(shape.milliamperes / 1000, "A")
            yield DRIVERS, f"flyback diode, {amperes} and {2 * shape.supply_v:g} V or more", 1
    elif shape.feed is Feed.SERVO_BOARD:
        yield DRIVERS, "servo board channel", 1


def _resistor(value: float, watts: float = WATTS[0]) -> str:
    return f"resistor, {ohms(value)}, {watts:g} W"


def _ulns(rows: Iterable[Row]) -> Iterator[tuple[str, str, int]]:
    for _ in {row.channel.chip for row in rows if row.channel}:
        yield DRIVERS, "ULN2803A", 1
        yield DRIVERS, "socket, 18 legs", 1


def _chips(layout: Layout, rows: Iterable[Row]) -> Iterator[tuple[str, str, int]]:
    told = Assumed(layout.wiring)
    model = PI_NAMES[told.pi()]
    guess = " (assumed: the layout file names none)" if told.names else ""
    yield CHIPS, f"Raspberry Pi {model} with its header{guess}", 1
    for chip in layout.chips:
        if not chip.lines:
            continue
        yield CHIPS, chip.kind.value.upper(), 1
        yield CHIPS, "socket, 28 legs", 1
        yield RESISTORS, _resistor(RESET_OHM), 1
        yield RESISTORS, f"capacitor, {plain(SUPPLY_F, 'F')}", 1
    for name in strangers_of(layout, rows):
        yield CHIPS, f"input/output chip {name}", 1


def strangers_of(layout: Layout, rows: Iterable[Row]) -> tuple[str, ...]:
    """Chips whose legs are not known: the kernel's own, and those that are not described."""
    known = {chip.id for chip in layout.chips if chip.lines}
    named = dict.fromkeys(row.pin.rpartition(":")[0] for row in rows if ":" in row.pin)
    return tuple(name for name in named if name not in known)


def _leads(layout: Layout, rows: Sequence[Row]) -> Iterator[Item]:
    area = Assumed(layout.wiring).plain("wire_mm2")
    for colour, metres in metres_of(rows).items():
        name = f"wire, {colour}, {area:g} mm\u00b2 ({metres:g} m are used)"
        yield Item(LEADS, name, ceil(metres * SPARE - 1e-9), "m")
    ends = sum(len(row.wires) for row in rows)
    yield Item(LEADS, "terminal block, 2 or 3 ways, for each end of a lead", 2 * len(rows))
    yield Item(LEADS, "label, with the wire's name, for each end of a lead", 2 * len(rows))
    yield Item(LEADS, "soldered and sleeved end", 2 * ends)


def _power(supplies: Iterable[Supply]) -> Iterator[Item]:
    yield Item(POWER, "supply of the Pi: 5.1 V, listed, as its maker names it", 1)
    fuses: Counter[float] = Counter()
    for supply in supplies:
        name = f"supply, {supply.name}: listed, {plain(supply.amperes, 'A')} or more"
        yield Item(POWER, name, 1)
        fuses[supply.fuse_a] += supply.branches
    for amperes, count in fuses.items():
        yield Item(POWER, f"fuse, {amperes:g} A, with its holder", count)
